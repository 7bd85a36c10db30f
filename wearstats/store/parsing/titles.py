"""Rows that stand above a sheet's column names, as a title does, found where the first row bears none."""

from __future__ import annotations

from itertools import islice

from wearstats.errors import Problem, counted
from wearstats.store.parsing.blocks import Block, heading_problems

_LOOKED_AT = 30


def title_above(block: Block, problems: list[Problem], *, place: str) -> list[Problem]:
    """Say which row seems to bear the column names, where the first does not; the problems as they are where none does.

    Parameters
    ----------
    block : Block
        Rows below what was taken for column names.
    problems : list of Problem
        What is wrong with these.
    place : str
        File, or file and sheet.
    """
    if not problems:
        return []
    above = 1
    for number, cells in islice(block.rows, _LOOKED_AT):
        headings = [(cell or "").strip() for cell in cells]
        while headings and not headings[-1]:
            headings.pop()
        if len(headings) > 1 and not heading_problems(block.table, headings, said=block.said, place=place):
            return [
                Problem(
                    place=f"{place}, row {number}",
                    found=f"looks like the column names, and {counted(above, 'row')} above it like a title",
                    allowed="the column names first, or lines such as 'inspection: I-17' above them",
                    next_step=f"delete what stands above row {number}",
                )
            ]
        above += 1
    return problems
