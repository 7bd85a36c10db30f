"""Three small shops, filled as their owners would fill them: one shaft, no word of any hub, no prices."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.store.database.connection import open_store
from wearstats.store.intake.add import add_files


def one_shaft(path: Path, folder: Path) -> Path:
    """Make a shop with one shaft, whose hub worked loose and was replaced."""
    make_shop(path, {"S1": splines(4.40, 4.39, 4.41)}, folder=folder)
    return _add(
        path,
        folder,
        {
            "hubs": "hub,pattern,undersize_um\nH1,P10,25\nH2,P10,50\n",
            "dispatches": "hub,sent_on,shaft,order\nH1,2025-01-05,S1,R1\nH2,2025-09-05,S1,R2\n",
            "fittings": "fitting,shaft,hub,fitted_on,method\nF1,S1,H1,2025-01-20,as-supplied\n"
            "F2,S1,H2,2025-09-20,owner-fitted\n",
            "follow_ups": "fitting,seen_on,state,cause\nF1,2025-08-20,loose,flanks\n",
            "returns": "hub,returned_on,reason\nH1,2025-10-02,worked-loose\n",
        },
    )


def twelve_unheard(path: Path, folder: Path) -> Path:
    """Make a shop with twelve shafts and a hub on each, none of which was ever heard of; one batch of two."""
    names = [f"S{number:02d}" for number in range(1, 13)]
    depth = [4.402 - 0.0013 * (5 * number % 12) for number in range(12)]
    make_shop(path, {name: splines(mm, mm - 0.01, mm) for name, mm in zip(names, depth, strict=True)}, folder=folder)
    return _add(
        path,
        folder,
        {
            "batches": "batch,pattern,undersize_um,made_on,quantity\nB1,P10,25,2024-06-01,10\nB2,P10,25,2024-07-01,8\n",
            "hubs": "hub,pattern,undersize_um,batch,space_width_mm\n"
            + "".join(f"H-{name},P10,25,{'B1' if at < 6 else 'B2'},4.405\n" for at, name in enumerate(names))
            + "H-shelf,P10,25,B1,4.405\n",
            "dispatches": "hub,sent_on,shaft,order\n"
            + "".join(f"H-{name},2025-01-05,{name},R-{name}\n" for name in names),
            "fittings": "fitting,shaft,hub,fitted_on,method\n"
            + "".join(
                f"F-{name},{name},H-{name},2025-02-0{at % 9 + 1},as-supplied\n" for at, name in enumerate(names[:-1])
            ),
        },
    )


def no_prices(path: Path, folder: Path) -> Path:
    """Make a shop with thirty shafts of one pattern, of whose hubs six worked loose, and no price of anything."""
    names = [f"S{number:02d}" for number in range(1, 31)]
    depth = [4.400 - 0.0015 * number for number in range(30)]
    make_shop(
        path, {name: splines(mm, mm - 0.01, mm + 0.01) for name, mm in zip(names, depth, strict=True)}, folder=folder
    )
    loose = names[4::5]
    return _add(
        path,
        folder,
        {
            "hubs": "hub,pattern,undersize_um\n" + "".join(f"H-{name},P10,25\n" for name in names),
            "dispatches": "hub,sent_on,shaft\n" + "".join(f"H-{name},2023-12-05,{name}\n" for name in names),
            "fittings": "fitting,shaft,hub,fitted_on,method,inspections\n"
            + "".join(
                f"F-{name},{name},H-{name},2024-0{at % 9 + 1}-10,as-supplied,I-{name}\n"
                for at, name in enumerate(names)
            ),
            "follow_ups": "fitting,seen_on,state,prompted,cause\n"
            + "".join(f"F-{name},2025-0{at + 2}-03,loose,unasked,flanks\n" for at, name in enumerate(loose))
            + "".join(
                # a few were asked again in the quarter that is reviewed, so that the records reach it
                f"F-{name},2025-{'12' if name in names[:3] else '06'}-03,tight,asked,\n"
                for name in names
                if name not in loose
            ),
        },
    )


SMALL_SHOPS: Final[dict[str, Callable[[Path, Path], Path]]] = {
    "one shaft": one_shaft,
    "twelve unheard": twelve_unheard,
    "no prices": no_prices,
}
"""By what is particular to each."""


def _add(path: Path, folder: Path, files: dict[str, str]) -> Path:
    paths = [folder / f"{name}.csv" for name in files]
    for file in paths:
        file.write_text(files[file.stem], encoding="utf-8")
    with open_store(path, write=True) as store:
        report = add_files(store, paths, added_on=AS_OF)
        assert report.kept_out == 0, report.files
    return path
