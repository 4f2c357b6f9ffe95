"""Ranks and tie letters from pairs that are told apart, and pairs that are not."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_lowercase, ascii_uppercase
from typing import Final

_LETTERS: Final = ascii_lowercase + ascii_uppercase + "".join(chr(code) for code in range(0x03B1, 0x03CA))


def tie_letters(apart: Sequence[Sequence[bool]]) -> list[str]:
    """Give letters such that two boards share one exactly if they are not told apart.

    Insert and absorb (H.-P. Piepho, J. Comput. Graph. Statist. 13 (2004) 456, compact letter display): one group of
    all; every pair told apart splits each group that holds both; groups within others go.

    Parameters
    ----------
    apart : sequence of sequence of bool
        Symmetric: whether two boards are told apart.

    Returns
    -------
    list of str
        Letters in the order of the boards.

    Examples
    --------
    >>> tie_letters([[False, False, True], [False, False, False], [True, False, False]])
    ['a', 'ab', 'b']
    """
    count = len(apart)
    groups = [frozenset(range(count))] if count else []
    for i in range(count):
        for j in range(i + 1, count):
            if apart[i][j]:
                groups = _absorbed(_split(groups, i, j))
    groups.sort(key=sorted)
    letters = [_LETTERS[n] if n < len(_LETTERS) else chr(0x4E00 + n) for n in range(len(groups))]
    return ["".join(a for a, group in zip(letters, groups, strict=True) if i in group) for i in range(count)]


def _split(groups: Sequence[frozenset[int]], i: int, j: int) -> list[frozenset[int]]:
    made = []
    for group in groups:
        made += [group - {i}, group - {j}] if i in group and j in group else [group]
    return made


def _absorbed(groups: Sequence[frozenset[int]]) -> list[frozenset[int]]:
    once = list(dict.fromkeys(groups))
    return [group for group in once if not any(group < other for other in once)]


def ranks(cooler: Sequence[Sequence[bool]]) -> list[int]:
    """Rank boards by the longest chain of boards certainly cooler, so that boards told apart never share a rank.

    Parameters
    ----------
    cooler : sequence of sequence of bool
        ``cooler[i][j]`` where i is certainly cooler than j; only for i before j.

    Examples
    --------
    >>> ranks([[False, False, True], [False, False, False], [False, False, False]])
    [1, 1, 2]
    """
    found: list[int] = []
    for j in range(len(cooler)):
        found.append(1 + max((found[i] for i in range(j) if cooler[i][j]), default=0))
    return found
