"""The page about the plan file, made from the descriptions that stand on its fields.

``python -m balance.plan.page > docs/plan_file.md`` writes it anew.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from pydantic.fields import FieldInfo

from balance.parts import checks, fittings, outlets, pipes, valves
from balance.plan import model
from balance.plan.describe import as_toml, example_value, marks, plain_types, words
from balance.plan.fields import Number, Quantity, QuantityPair
from balance.plan.openings import QUARTER_TURN
from balance.plan.pieces import KINDS, DevicePart, MediaBed, Table
from balance.plan.starter import STARTER

_TABLES: tuple[tuple[str, type[Table]], ...] = (
    ("The plan itself", model.Plan),
    ("`[water]`", model.WaterSpec),
    ("`[vessels.NAME]`", model.Vessel),
    ("`[pumps.NAME]`", model.Pump),
    ("`[[runs]]`", model.Run),
    ("`[[headers]]`", model.Header),
    ("`taps` of a header", model.Tap),
    ("`[[branches]]`", model.Branch),
    ("`replaces` of a branch", model.SmallPump),
    ("`[[drains]]`", model.Drain),
    ("`[[weirs]]`", model.Weir),
    ("`[joints.NAME]`", model.Joint),
    ("`[groups.NAME]`", model.Group),
    ("`[power]`", model.Power),
    ("`[heat]`", model.Heat),
    ("`[[candidates]]`", model.Candidate),
    ("`[change]`", model.Change),
    ("`[spread]`", model.Spread),
    ("`[shop]`", model.Shop),
    ("`[learnt]`", model.Learnt),
    ("`[[learnt.numbers]]`", model.LearntNumber),
)

_INTRODUCTION = """\
# The plan file

<!-- Made from the descriptions of the fields by `python -m balance.plan.page`. -->

A plan is one text file in [TOML](https://toml.io) that says what your plumbing is made of. Write
it at the bench with any editor; `balance new my-plan.toml` writes one to begin with.

- **Quantities are text with a unit**: `"3/4 in"`, `"32 mm"`, `"120 gph"`, `"6 ft 3 in"`, mixed as
  you like. A bare number where a unit belongs is refused, and the message shows how to write it.
  `gph` and `gal` are US; imperial ones are `imp gph` and `imp gal`.
- **Heights** all count from one datum of your choice, such as the floor, and may be negative.
- **Names** share one set in the whole plan, ignore case, and hold no `=` or `,`. A name in `from`
  or `to` that is no vessel makes a joint: a place where two or more things meet. `"outside"` is
  always there as an end.
- **Parts** stand in the order of the water. `size` left out is that of the pipe before, else after.
  A bushing or barb may be written either way round: its neighbours show how it stands.
- **A valve** without a name goes by the name of its stretch. In a header, that is
  `"<header> to <branch>"`. Two valves to turn in one stretch are a fault: lock one.
- **A tap** makes a joint called `"<branch> tap"`.
- **`like = "tank 1"`** on a vessel, branch or drain copies all that is not restated, but no names.
- `title`, `units` and `measured` stand at the very top, above the first `[ ]`.
- What stands in `{ }` stays on one line, without a comma before the `}`.
- **Faults** are all told in one go, each with its line. Entries of a list count from 1 there:
  `branches "refugium" > parts[3]` is the third part.

A pump's curve is a CSV file beside the plan whose header row carries the units, with flow rising,
at full speed (unless in a family), power as tested in fresh water; `#` begins a remark:

```csv
flow_gph,head_ft,power_w
0,13,30
400,11.5,38
800,8.5,45
```

or it stands in the plan itself as `points = ["0 gph at 13 ft, 30 W", ...]`. A column `npsh_ft`, the
net positive suction head that the pump needs, lets its suction be judged.

## A small plan

```toml
"""


def page() -> str:
    """Write the page."""
    lines = [_INTRODUCTION + STARTER + "```", "", "## Tables and keys"]
    for title, table in _TABLES:
        lines += ["", f"### {title}", "", *_section(table)]
    lines += ["", "## Parts", "", "Which part a `{ }` is shows in the first key of each table."]
    for kind, part in KINDS.items():
        lines += ["", f"### `{{ {kind} = ... }}`", "", *_section(part, first=kind)]
        if part is DevicePart:
            lines += ["", "#### `bed` of a device", "", *_section(MediaBed)]
    lines += ["", "## Kinds", "", "`balance parts` says what each loses, and who says so.", ""]
    sizes = (
        f"`{made[0].name.removesuffix(f' {kind}')}` to `{made[-1].name}`"
        for kind, made in pipes.series().items()
    )
    lines.append(
        "- **Pipe**, with `nominal bore` behind it or not, see pipes.md: " + ", ".join(sizes)
    )
    for title, kinds in (
        ("Hose", pipes.hoses()),
        ("Fittings", fittings.kinds()),
        ("Valves", valves.kinds()),
        ("Check valves", checks.kinds()),
        ("Inlets", outlets.inlets()),
        ("Outlets", outlets.outlets()),
    ):
        lines.append(f"- **{title}**: " + ", ".join(f"`{kind}`" for kind in kinds))
    return "\n".join(lines) + "\n"


def _section(table: type[Table], *, first: str | None = None) -> Iterator[str]:
    yield " ".join((table.__doc__ or "").split())
    yield ""
    yield "| key | what it is | written | left out |"
    yield "|---|---|---|---|"
    fields = {info.alias or name: info for name, info in table.model_fields.items()}
    for key in sorted(fields, key=lambda key: key != first):
        info = fields[key]
        yield f"| `{key}` | {info.description} | {_written(info)} | {_left_out(info)} |"


def _written(info: FieldInfo) -> str:
    """Give an example of the value, with its dimension where it has one."""
    dimension = next(
        (
            mark.dimension if isinstance(mark, Quantity) else mark.one.dimension
            for mark in marks(info)
            if isinstance(mark, Quantity | QuantityPair)
        ),
        None,
    )
    if choices := words(info):
        return ", ".join(f'`"{choice}"`' for choice in choices)
    example = example_value(info)
    if example == "...":
        if any(isinstance(mark, Number) for mark in marks(info)) or info.annotation is float:
            return "a number"
        return "text" if str in plain_types(info) else "of its own kind, below"
    return f"`{as_toml(example)}`" + (f" ({dimension})" if dimension else "")


def _left_out(info: FieldInfo) -> str:
    if info.is_required():
        return "**needed**"
    default = info.default
    if default is None or info.default_factory is not None or isinstance(default, tuple | Table):
        return ""
    if isinstance(default, bool):
        return f"`{str(default).lower()}`"
    if isinstance(default, str):
        return f'`"{default}"`' if default else ""
    return _default_quantity(info, float(default))


def _default_quantity(info: FieldInfo, value: float) -> str:
    dimension = next((m.dimension for m in info.metadata if isinstance(m, Quantity)), "")
    if info.description and "left out" in info.description:
        return ""
    if dimension in ("percent", "speed ratio"):
        return f"`{100.0 * value:g} %`"
    unit = {
        "length": " m",
        "volume": " L",
        "flow": " L/h",
        "salinity": " g/kg",
        "temperature": " degC",
        "time": " s",
    }.get(dimension, "")
    examples = (example for example in info.examples or () if isinstance(example, str))
    if not unit and any("deg" in example for example in examples):
        return "`full`" if value == 1.0 else f"`{QUARTER_TURN * value:g} deg`"
    return f"`{value:g}{unit}`"


if __name__ == "__main__":
    sys.stdout.write(page())
