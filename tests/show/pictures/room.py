"""Whether words on a picture have room, and names that do harm where they are not escaped."""

from __future__ import annotations

from itertools import combinations

from balance.show.pictures.canvas import Picture, drawing

HOSTILE = "<script>alert(1)</script> $x_1$ & " + 200 * "W"


def texts(picture: Picture) -> list[str]:
    """All that is written, but for numbers of axes."""
    found = [text.get_text() for axes in picture.figure.axes for text in axes.texts]
    return [text for text in found if text]


def faults(picture: Picture, *, touch: float = 1.0) -> list[str]:
    """Words that leave the sheet, and words that stand on others.

    Parameters
    ----------
    touch : pixels by which two boxes may meet upright: letters do not fill theirs
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with drawing():
        canvas = FigureCanvasAgg(picture.figure)
        canvas.draw()  # type: ignore[no-untyped-call]  # of matplotlib
        renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        words = [
            text
            for axes in picture.figure.axes
            for text in (*axes.texts, *axes.get_xticklabels(), *axes.get_yticklabels())
            if text.get_text() and text.get_visible() and (text in axes.texts or axes.axison)
        ]
        boxes = [(text.get_text(), text.get_window_extent(renderer)) for text in words]
    width, height = picture.figure.bbox.size
    out = [
        text for text, box in boxes if box.x0 < 0 or box.y0 < 0 or box.x1 > width or box.y1 > height
    ]
    for (one, a), (other, b) in combinations(boxes, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        if across > 0.5 and up > touch:
            out.append(f"{one} / {other}")
    return out


def assert_harmless(picture: Picture) -> None:
    """A name such as `HOSTILE` is escaped in it, and was not lost."""
    page = picture.inline("it")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
