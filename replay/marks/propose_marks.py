"""Proposals beside the marks that are there: nothing is proposed twice, and nothing that a person has already judged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from dualduty.signals import ROLES
from replay.check.interval_sets import covered, interval_array
from replay.marks.mark import PROPOSED, Mark

ENOUGH: Final = 0.5  # of a proposal, or of the mark that it lies over: it is known already


def new_proposals(proposals: Iterable[Mark], marks: Sequence[Mark]) -> list[Mark]:
    """Those of the proposals that aren't known, with the status of a proposal, in order of time.

    Known is what lies by half or more within marks of the same state at the same place, or covers half or more of one of them (a detector
    holds a landing for longer than a person marks it); whatever became of that mark: accepted, rejected, proposed before or by
    another detector, or earlier in this list.
    """
    known = list(marks)
    fresh: list[Mark] = []
    for proposal in sorted(proposals, key=lambda mark: (mark.start, mark.state, mark.where)):
        if not _is_known(proposal, known):
            fresh.append(replace(proposal, status=PROPOSED))
            known.append(proposal)
    return fresh


def _is_known(proposal: Mark, marks: Sequence[Mark]) -> bool:
    there = interval_array(
        (mark.start, mark.end) for mark in marks if mark.state == proposal.state and same_place(mark.where, proposal.where)
    )
    mine = interval_array([(proposal.start, proposal.end)])
    if covered(mine, there)[0] >= ENOUGH * (proposal.end - proposal.start):
        return True
    return bool((covered(there, mine) >= ENOUGH * (there[:, 1] - there[:, 0])).any())


def same_place(one: str, other: str) -> bool:
    """Whether two places have a corner in common; "" is all of the vehicle."""
    return not one or not other or bool(set(ROLES[one]) & set(ROLES[other]))
