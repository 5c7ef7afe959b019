"""Help (search and run actions), the legend of drawings, and the guided tour of the screens.

Help is used instead of Textual's command palette, which has no column of keys, does not show the
place of an action, and marks its input with an emoji.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from textual.app import ComposeResult
from textual.widgets import Static

from hingeleaf_tui import action_search, actions
from hingeleaf_tui.drawing.canvas import Canvas
from hingeleaf_tui.drawing.view import View
from hingeleaf_tui.messages import ShowTour
from hingeleaf_tui.screens.dialogs import Dialog, Lines, PickDialog
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextRow


class ActionDialog(PickDialog):
    """Every action with its key, those of the places `here` first; the answer is an action's id."""

    PLACEHOLDER = "type what you want to do"

    def __init__(self, services: Services, title: str, here: Sequence[str] = ()) -> None:
        self._here = here
        nothing = "No action is called that."
        super().__init__(services, title, empty=nothing)

    def fitting(self, typed: str) -> Lines:
        """The actions that match the typed words, best first."""
        return [self._line(action) for action in action_search.search(typed, self._here)]

    def _line(self, action: actions.Action) -> TextRow:
        keys = actions.key_labels(self.services.keys_of(action))
        return TextRow(f"{keys:<14}{action.help}", action.id, right=actions.PLACES[action.place])


SAMPLE = 6
"""Columns of a sample."""
SURFACE = (
    ("sheet", 0, "the sheet"),
    ("paper", 0, "the field, or a motif's paper"),
    ("behind", 0, "an opening, and what lies behind it"),
    ("flap-face", 0, "a flap, or a motif that lifts"),
    ("paper-shade", 0, "the shadow of a flap that is folded up"),
    ("pinned", 0, "openings of a pinned motif"),
    ("picked", 0, "the chosen motif, or the circle to fill again"),
    ("loose", 0, "paper that would fall out"),
    ("tie", 0, "a bridge"),
    ("crease", 2, "the fold line of a flap (dashed)"),
    ("cut-line", 0, "a slit"),
)
LINES = (
    ("field", 0, "the edge of the field"),
    ("window", 0, "an opening, or a whole motif where it is small"),
    ("flap", 6, "a flap (hatched widely)"),
    ("pinned", 0, "a pinned motif, marked i"),
    ("picked", 0, "the chosen motif, or the circle to fill again"),
    ("loose", 3, "paper that would fall out (hatched closely)"),
    ("bridge", 0, "a bridge"),
    ("hinge", 2, "the fold line of a flap (dashed)"),
    ("slit", 0, "a slit"),
)
"""Styles, their hatch spacing, and their meaning."""


class LegendScreen(Dialog[None]):
    """Samples in the style of the drawings, with their meaning."""

    AUTO_FOCUS = None

    def __init__(self, services: Services) -> None:
        super().__init__(services, "What colours and lines mean")
        self._entries = SURFACE if services.drawing_ink.is_solid else LINES

    def content(self) -> ComposeResult:
        """A picture with a sample and its meaning in each row."""
        picture_view = PictureView(id="legend")
        picture_view.styles.height = len(self._entries)
        yield picture_view

    def on_mount(self) -> None:
        """Explain the other views."""
        self.report(
            "{panel.look} shows a motif or panel folded up, then a panel by the pull that its "
            "paper withstands, then by its gaps."
        )

    def on_picture_view_resized(self) -> None:
        """Draw the samples."""
        picture_view, ink = self.query_one(PictureView), self.services.drawing_ink
        across, down = ink.dots
        view = View((0, 0), 1, picture_view.columns * across, picture_view.rows * down)
        canvas = Canvas(picture_view.columns, picture_view.rows, view, ink)
        for row, (style, hatch, meaning) in enumerate(self._entries):
            canvas.swatch(0, row, SAMPLE, style, hatch)
            canvas.write(SAMPLE + 2, row, meaning, "label")
        picture_view.show(canvas.picture())


@dataclass(frozen=True, slots=True)
class TourStep:
    """A text and its screen; keys are written as {action ids}."""

    screen: str
    title: str
    text: str


STEPS = (
    TourStep(
        "motifs",
        "1 of 5: Motifs",
        "A motif is one design. They are listed at the left, the chosen one is drawn large.\n\n"
        "{motifs.find} searches, {motifs.add} imports drawings of your own, "
        "{motifs.starters} adds the starter patterns. An empty library gets these now.",
    ),
    TourStep(
        "bridges",
        "2 of 5: Bridges",
        "Bridges are strips left uncut, so that nothing falls out. The arrows move the chosen "
        "one, {bridges.hold} explains what can lift and plans it, {bridges.smaller} shows the "
        "motif made smaller. Loose parts, the thinnest place and the smallest safe size stand at "
        "the left.",
    ),
    TourStep(
        "panel",
        "3 of 5: Panel",
        "A letter, word, border or outline is filled with motifs. Set it up at the left, then "
        "{panel.fill} fills it and {panel.stop} stops. {panel.arrange} lets you move, rotate and "
        "pin motifs; {panel.export} writes the cut file at true size.",
    ),
    TourStep(
        "trials",
        "4 of 5: Trials",
        "Hingeleaf computes which sizes the geometry allows; test cuts prove what your card and "
        "blade can do. {trials.ladder} writes a motif at a row of sizes, {trials.record} records "
        "what held.",
    ),
    TourStep(
        "workshop",
        "5 of 5: Workshop",
        "Your cards, the settings, and the keys, all of which you can change. On any screen, "
        "{everywhere.help} finds any action.",
    ),
)


class Tour(Dialog[None]):
    """One step of the tour."""

    PLACE = "tour"

    def __init__(self, services: Services, number: int = 0) -> None:
        super().__init__(services, STEPS[number].title)
        self._number = number

    def content(self) -> ComposeResult:
        """The text."""
        yield Static(self.services.with_keys(STEPS[self._number].text), markup=False)

    def action_next(self) -> None:
        """Go to the next step, on its own screen."""
        self.post_message(ShowTour(self._number + 1))
        self.dismiss()
