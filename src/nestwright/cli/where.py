"""Where a command does its pieces of work: by default on this computer, with --cluster on one that is there already."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nestwright.pieces import Place

__all__ = ["OnCluster", "place_of"]

OnCluster = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Work on a running dask cluster, tcp://HOST:PORT; only in a network of your own.",
        show_default=False,
    ),
]


def place_of(cluster: str | None) -> Place | None:
    """The cluster that an option names, not yet opened; None for this computer. Raises InputError for no address."""
    if cluster is None:
        return None
    from nestwright.pieces.cluster import Cluster

    return Cluster(cluster)
