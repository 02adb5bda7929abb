"""States told afterwards, with hindsight: for proposals of marks, never for a strategy."""
