"""Two mounts of the example truck on the same random ground: how many more wheels unload, and what it costs.

Paste it into a notebook, or run it: ``python two_mounts.py``. It takes about half a minute,
writes the example study into a folder, draws one chart there, and prints the differences with their intervals.
"""

from pathlib import Path

import crossaxle

folder = Path("two-mounts")
if not folder.exists():
    crossaxle.example(folder)
study = crossaxle.load(folder / "study.toml", samples=40)
results = crossaxle.run(study)

first, second = "wheelbase=4.4 m, mount=rigid", "wheelbase=4.4 m, mount=pivoting"
found = crossaxle.compare(results, first, second)
print(f"{found.first} minus {found.second}, with 95 % interval:")
for outcome in found.outcome:
    row = found.sel(outcome=outcome)
    print(
        f"  {row.heading.item()}: {row.difference.item():+.3g} {row.unit.item()} "
        f"({row.difference_low.item():.3g} to {row.difference_high.item():.3g})"
    )

# Results are plain xarray: the tightest that a gap got, by wheelbase and mount, in mm.
print(
    (1e3 * results["gap_minimum"].sel(gap="tank top to floor").min(["course", "sample"])).round(1).to_pandas()
)

crossaxle.plot(results, "unload_events").savefig(folder / "unload_events.png")
print(f"chart: {folder / 'unload_events.png'}")
