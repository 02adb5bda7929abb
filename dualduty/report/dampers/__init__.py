"""Pictures and pages about single dampers: sheets over each other, before and after, requests and answers."""
