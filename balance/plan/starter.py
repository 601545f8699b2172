"""A small plan to begin with: one file that reads without faults and solves as it stands."""

from __future__ import annotations

import os
from pathlib import Path

from balance.errors import UsageError
from balance.plan.whole import write_anew, write_over

STARTER = """\
# A plan of plumbing. Change what is here to what you have; a line that begins with # is a remark.
# Every quantity is text with its unit, in any mix: "3/4 in", "32 mm", "120 gph", "400 L/h".
# After each change: balance check this file, then balance settings this file.

title = "My tank and its sump"
units = "us"                        # how answers are printed: us, imperial or metric
measured = "visible"                # lengths of pipe as seen between fittings

[water]
salinity = "35 g/kg"                # "0 g/kg" for fresh water
temperature = "25 degC"

# Vessels: whatever has a water surface. All heights count from one datum, such as the floor.

[vessels.sump]
bottom = "4 in"
level = "13 in"                     # water surface while the pump runs
rim = "20 in"
length = "30 in"
width = "15 in"

[vessels.tank]
bottom = "36 in"
level = "56 in"
rim = "58 in"
length = "48 in"
width = "24 in"

# The pump, with its curve at full speed as its maker prints it. A longer curve goes into a file
# beside this one: curve = "my-pump.csv", with the header row flow_gph,head_ft,power_w

[pumps.main]
points = [
  "0 gph at 13 ft, 30 W",
  "400 gph at 11.5 ft, 38 W",
  "800 gph at 8.5 ft, 45 W",
  "1200 gph at 3.5 ft, 50 W",
  "1350 gph at 0 ft, 51 W",
]
from = "sump"
to = "riser foot"                   # a joint: any name where two or more things meet
speed = "100 %"
# speed_range = ["40 %", "100 %"]   # take the # away if its speed can be set
# speed_step = "5 %"

[[runs]]
name = "riser"
from = "riser foot"
to = "manifold start"
parts = [
  { pipe = "1 in sch 40", length = "20 in" },
  { fitting = "elbow 90", size = "1 in", count = 2 },
  { fitting = "union", size = "1 in" },
]

# The manifold: a pipe with tees along it, one for each branch, in the order of the water.

[[headers]]
name = "manifold"
from = "manifold start"
pipe = "1 in sch 40"
taps = [
  { branch = "reactor", after = "4 in", side_size = "3/4 in" },
  { branch = "refugium", after = "4 in", side_size = "3/4 in" },
  { branch = "return", after = "6 in", end = "elbow" },
]

# Branches: what has a flow worth asking about. Each part stands in the order of the water.

[[branches]]
name = "reactor"
to = "sump"
target = "100 gph"                  # or "80..120 gph", ">= 80 gph", "<= 120 gph"
parts = [
  { valve = "ball", size = "3/4 in", open = "45 deg" },   # degrees from shut
  { fitting = "barb", size = "3/4 in", hose = "1/2 in" },
  { hose = "1/2 in", length = "4 ft" },
  { device = "reactor", drop = "1 ft at 100 gph" },
  { hose = "1/2 in", length = "3 ft" },
  { outlet = "submerged" },
]

[[branches]]
name = "refugium"
to = "sump"
target = "200 gph"
parts = [
  { valve = "ball", size = "3/4 in", open = "45 deg" },
  { pipe = "3/4 in sch 40", length = "24 in" },
  { outlet = "submerged" },
]

[[branches]]
name = "return"
to = "tank"
target = "400 gph"
tolerance = "15 %"
parts = [
  { valve = "ball", size = "1 in", open = "full" },
  { pipe = "1 in sch 40", length = "46 in" },
  { fitting = "elbow 90", size = "1 in", count = 2 },
  { outlet = "submerged", depth = "0.75 in" },
]
"""


def write_starter(path: str | os.PathLike[str], *, force: bool) -> Path:
    """Write the starter plan to a file, whole or not at all.

    Parameters
    ----------
    path
        The file to make; its folder must be there.
    force
        Whether a file of that name may be written over.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    UsageError
        If the file is there already, or cannot be written.
    """
    file = Path(path)
    if file.is_dir():
        raise UsageError(f"{file} is a folder; name a file in it, such as {file / 'plan.toml'}")
    if force:
        write_over(file, STARTER)
        return file
    try:
        write_anew(file, STARTER)
    except FileExistsError as error:
        raise UsageError(
            f"{file} is there already and stays as it is; choose another name, "
            "or write over it with --force"
        ) from error
    return file
