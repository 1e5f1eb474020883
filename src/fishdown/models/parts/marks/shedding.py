"""Mark retention and detection by kind of mark: fin clip, tag, or both on one fish."""

from __future__ import annotations

from typing import Any

from fishdown.models.array_library import NUMPY

# Kinds of mark, in the order of every array that has one entry for each.
KINDS = ("fin_clip", "pit_tag", "both")


def still_marked(shares: Any, clip_retention: Any, tag_retention: Any) -> Any:
    """Return the probability that a fish of a release group is still recognised as marked.

    Clip and tag are lost independently of each other, so a double-marked fish is missed only if it
    has lost both: 1 − (1 − c)(1 − t). A release group of several kinds of mark has their mean.

    Parameters
    ----------
    shares : array or tensor, shape (release_group, kind)
        Share of each of `KINDS` among the marks of a group.
    clip_retention, tag_retention : array or tensor
        c and t: probability that a clip, and a tag, is retained and detected.

    Returns
    -------
    array or tensor, shape (release_group,)
    """
    either = clip_retention + tag_retention - clip_retention * tag_retention
    return shares[:, 0] * clip_retention + shares[:, 1] * tag_retention + shares[:, 2] * either


def double_mark_log_density(
    both: Any,
    clip_only: Any,
    tag_only: Any,
    clip_retention: Any,
    tag_retention: Any,
    *,
    xp: Any = NUMPY,
) -> Any:
    """Log-density of the marks found on recaptured double-marked fish.

    A fish that has lost both marks is not recognised, so the three numbers are multinomial with the
    probabilities ct, c(1 − t) and (1 − c)t, each divided by their sum (the argument is that of
    Seber and Felton 1981, Biometrika 68:211–219; reference from memory).

    Parameters
    ----------
    both, clip_only, tag_only : array or tensor
        Fish found with both marks, with the clip only, with the tag only.
    clip_retention, tag_retention : array or tensor
        c and t, as in `still_marked`.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor
    """
    seen = both + clip_only + tag_only
    return (
        xp.gammaln(seen + 1.0)
        - xp.gammaln(both + 1.0)
        - xp.gammaln(clip_only + 1.0)
        - xp.gammaln(tag_only + 1.0)
        + (both + clip_only) * xp.log(clip_retention)
        + (both + tag_only) * xp.log(tag_retention)
        + clip_only * xp.log(1.0 - tag_retention)
        + tag_only * xp.log(1.0 - clip_retention)
        - seen * xp.log(clip_retention + tag_retention - clip_retention * tag_retention)
    )
