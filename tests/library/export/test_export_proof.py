"""Proofs: the card's own colours, true size, credits."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from hingeleaf.errors import UsageError
from hingeleaf.export.options import LookOptions
from hingeleaf.export.proof import FOOT_HEIGHT, write_proof
from hingeleaf.model import Source
from support.panel_samples import one_panel, ring_motif

Proof = Callable[..., bytes]
MOTIF = replace(ring_motif(0), source=Source(maker="Ada of the harbour", licence="CC0-1.0"))
PANEL = one_panel(MOTIF)
SAGE, PLUM = (185, 200, 168), (90, 47, 63)
LOOKS = LookOptions(dpi=100, card_colour="#b9c8a8", backing="#5a2f3f")


@pytest.fixture
def proof(tmp_path: Path) -> Proof:
    def write(kind: str, looks: LookOptions = LOOKS, facts: Sequence[str] = ()) -> bytes:
        file = tmp_path / f"proof.{kind}"
        write_proof(PANEL, file, looks, facts)
        return file.read_bytes()

    return write


def colours(picture: Image.Image) -> set[tuple[int, ...]]:
    return {tuple(pixel) for pixel in np.array(picture.convert("RGB")).reshape(-1, 3).tolist()}


def test_a_png_shows_card_and_backing_at_true_size_above_white(proof: Proof):
    picture = Image.open(io.BytesIO(proof("png")))
    assert picture.width == round(PANEL.size[0] / 25.4 * 100)
    assert picture.info["dpi"] == pytest.approx((100, 100), abs=0.1)
    assert {SAGE, PLUM, (255, 255, 255)} <= colours(picture)
    assert picture.height > PANEL.size[1] / 25.4 * 100 + 10  # the words below


def test_the_words_below_a_png_take_its_whole_width_and_no_more(proof: Proof):
    """A link without blanks longer than a line is broken, so that no credit is cut off."""
    margin = round(FOOT_HEIGHT / 25.4 * 100)
    facts = "wings and petals that fold up from the card " * 8, "W" * 300
    for fact in facts:
        out = proof("png", LookOptions(dpi=100), [fact])
        picture = np.array(Image.open(io.BytesIO(out)).convert("L"))
        foot = picture[round(PANEL.size[1] / 25.4 * 100) + 1 :]
        inked = np.flatnonzero((foot < 200).any(axis=0))
        assert inked[0] >= margin
        assert 0.85 * picture.shape[1] < inked[-1] <= picture.shape[1] - margin + 1


def test_a_pdf_names_the_panel_its_size_and_whose_work_it_is(proof: Proof):
    (page,) = pypdfium2.PdfDocument(proof("pdf"))
    text = page.get_textpage().get_text_range()
    for part in (PANEL.name, "90 mm × 90 mm", "true size", "Ada of the harbour", "CC0-1.0"):
        assert part in text
    assert {SAGE, PLUM} <= colours(page.render(scale=2).to_pil())


def test_equal_proofs_are_equal_files_and_colours_are_checked(proof: Proof):
    assert proof("pdf") == proof("pdf")
    with pytest.raises(UsageError, match="'red' is not a colour"):
        proof("pdf", LookOptions(card_colour="red"))
