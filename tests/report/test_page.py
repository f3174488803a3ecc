"""The page of a session: it says what the tables say and no more, whatever is lacking, and needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest

from report.made_pages import made_walk, page_of
from study.made import MadeWalk


def page(walks: Sequence[MadeWalk], **how: Any) -> str:
    html = page_of(walks, **how)
    check_html(html)
    return html


class _Tags(HTMLParser):
    VOID = frozenset({"meta", "link", "br", "img", "input"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []
        self.asks: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        self.asks += [f"{name}={value}" for name, value in attrs if name in ("src", "href", "srcset", "action")]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.text.append(data)


BESIDE = {"href=letter.html", "href=../course.html"}
"""Pages that lie beside this one; it says all it has to say without them."""


def check_html(html: str) -> None:
    tags = _Tags()
    tags.feed(html)
    assert tags.open == []
    assert "script" not in html
    assert all(ask.startswith("href=#") or ask in BESIDE for ask in tags.asks)
    assert not re.search(r"https?:|url\((?!#)|@import", html)
    assert "not a medical device" in html
    assert html.count("<h1>") == 1


def text_of(html: str) -> str:
    tags = _Tags()
    tags.feed(html)
    return re.sub(r"[ \n\t]+", " ", "".join(tags.text))


def test_answers_in_order_with_numbers_and_intervals() -> None:
    rng = np.random.default_rng(1)
    walks = [
        made_walk("a", rng, condition="unbraced"),
        made_walk("b", rng, setting="soft", slap_rate_deg_s=-120.0, toe_clearance_min_mm=9.0),
        made_walk(
            "c", rng, setting="firm", slap_rate_deg_s=-200.0, shank_forward_rate_deg_s=80.0, toe_clearance_min_mm=9.0
        ),
    ]
    text = text_of(page(walks))
    questions = ["Is the toe clear?", "Is the foot let down, or does it slap?", "Is the shank driven forward?"]
    places = [text.index(question) for question in questions]
    assert places == sorted(places)
    lower = r"in the brace: slap rate \d+\u00b0/s unbraced, \d+\u00b0/s braced, 1\d\d\u00b0/s lower \(interval \u2212"
    assert re.search(rf"The foot is let down more slowly at the ankle {lower}", text)
    assert re.search(r"The toe clears the floor by more in the brace: .*, \d+\u00a0mm higher \(interval \+", text)
    assert re.search(r"\d+\u00b0/s lower with firm than with soft \(\u2212", text)
    assert re.search(
        r"Firm against soft: slap rate \d+\u00b0/s lower \(.*\), but shank forward rate \d+\u00b0/s higher", text
    )
    assert text.index("What next walk would tell most.") < text.index("How it moves")
    assert "Cannot be told here: wrong side; " in text
    assert re.search(r"Cannot be told apart by these strides: soft and firm \(\u2212", text)
    assert "soft (50 Shore A)" in text
    assert "95\u00a0% interval" in text
    assert "Braced walking is the 2 braced walks taken together." in text
    assert "this page holds 32 comparisons" in text  # 8 measures by 4 pairs


def test_no_shank_log_is_said() -> None:
    rng = np.random.default_rng(2)
    walks = [made_walk("a", rng, condition="unbraced", shank=False), made_walk("b", rng, shank=False)]
    text = text_of(page(walks))
    assert "No shank log: what the shank does, and the knee with it, is not known." in text
    assert "the foot's own lowering rate stands in for it" in text
    assert "No clear change in how fast the foot is let down: foot lowering rate " in text


def test_one_walk_has_nothing_to_compare_with() -> None:
    text = text_of(page([made_walk("a", np.random.default_rng(3), condition="unbraced")]))
    assert "No braced walk to compare with." in text
    assert "The settings against each other" not in text
    assert not re.search(r"\b(higher|lower) (in|with)\b", text)


def test_too_few_strides_are_no_answer() -> None:
    rng = np.random.default_rng(4)
    walks = [made_walk("a", rng, condition="unbraced"), made_walk("b", rng, bouts=(3,), slap_rate_deg_s=-200.0)]
    text = text_of(page(walks))
    words = "Too few strides to say whether the brace changes how fast the foot is let down at the ankle"
    assert f"{words}: 20 unbraced, 3 braced." in text


def test_no_stride_that_counts() -> None:
    rng = np.random.default_rng(5)
    text = text_of(page([made_walk("a", rng), made_walk("b", rng)], steady=False, status="flagged"))
    assert "No stride counts" in text
    assert "first of a bout" in text
    assert "Is the toe clear?" not in text


@pytest.mark.parametrize("walks", [[], [MadeWalk("a", (), {})]])
def test_a_rejected_session_says_why_and_how_to_mend_it(walks: list[MadeWalk]) -> None:
    finding = {
        "code": "log-unreadable",
        "severity": "error",
        "message": "There is no a.csv.",
        "remedy": "Put it there.",
    }
    text = text_of(
        page(walks, status="rejected", findings=[finding | {"walk": "a", "segment": "foot", "side": "left"}])
    )
    assert "This session could not be analysed." in text
    assert re.search(r"walk a, left foot: There is no a\.csv\. Put it there\.", text)
    assert text.count("There is no a.csv.") == 1
    assert "Is the toe clear?" not in text


def test_findings_stand_in_order_of_weight_with_their_place() -> None:
    rng = np.random.default_rng(6)
    findings = [
        {"code": "clock", "severity": "info", "message": "Aligned.", "remedy": "", "walk": None},
        {"code": "gap", "severity": "warning", "message": "A gap.", "walk": "b", "start_s": 3.04, "end_s": 4.0},
    ]
    text = text_of(page([made_walk("a", rng), made_walk("b", rng)], status="flagged", findings=findings))
    assert text.index("walk b, 3.0 to 4.0 s: A gap.") < text.index("Aligned.")
    assert "Read the findings before relying on them." in text


def test_labels_cannot_break_the_page() -> None:
    rng = np.random.default_rng(7)
    nasty = "<b>&\"'"
    finding = {"code": "x", "severity": "info", "message": "<img src=x>", "remedy": "</style>", "walk": "a"}
    html = page([made_walk("a", rng, setting=nasty), made_walk("b", rng, setting="soft")], findings=[finding])
    assert "<b>" not in html
    assert "<img" not in html
    assert nasty in text_of(html)


@pytest.mark.untraced
def test_a_page_is_small() -> None:
    rng = np.random.default_rng(8)
    walks = [made_walk(name, rng, setting=name, bouts=(40, 40)) for name in "abcde"]
    assert len(page(walks).encode()) < 700_000


def test_labels_that_cannot_be_right_are_asked_about() -> None:
    rng = np.random.default_rng(12)
    walks = [made_walk("a", rng, condition="unbraced", slap_rate_deg_s=-150.0), made_walk("b", rng, setting="soft")]
    text = text_of(page(walks))
    assert "Were braced and unbraced walks labelled as they were walked?" in text
    assert "In walk b it does." in text
