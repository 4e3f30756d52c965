"""Answers to the ten questions as racers write them, what each is read as, and what is still refused."""

from __future__ import annotations

import pytest

from ovalwright.documents import QUESTIONS, DocumentError, check_answer, new_car, understood

BY_KEY = {question.key: question for question in QUESTIONS}
EXAMPLES = {question.key: question.example for question in QUESTIONS}
WEIGHTS = ("776 lb", "646 lb", "844 lb", "566 lb")
SIZE = ("105 in", "65 in", "65 in")
RATES = ("300 lb/in", "325 lb/in", "200 lb/in", "225 lb/in")
ROLL_OUTS = ("84 1/2 in", "86 3/4 in", "85 1/4 in", "87 1/2 in")
SPOKEN = {
    ("axle", "leafs"): ("leaf springs",),
    ("axle", "multi-leaf"): ("leaf springs",),
    ("axle", "metric 4 link"): ("four-link",),
    ("axle", "pull bar"): ("three-link",),
    ("axle", "truck arm"): ("truck arms",),
    ("size", "105/65/65"): SIZE,
    ("size", "105 x 65 x 65"): SIZE,
    ("size", '105" 65" 65"'): SIZE,
    ("size", "wheelbase 105, front 65, rear 65."): SIZE,
    ("weights", "LF 776 RF 646 LR 844 RR 566"): WEIGHTS,
    ("weights", "RF: 646, LF: 776, RR: 566, LR: 844"): WEIGHTS,
    ("weights", "776# 646# 844# 566#"): WEIGHTS,
    ("weights", "776 / 646 / 844 / 566"): WEIGHTS,
    ("weights", "1,100 900 1,050 850"): ("1100 lb", "900 lb", "1050 lb", "850 lb"),
    ("weights", "776,646,844,566"): WEIGHTS,
    ("fuel", "18 of 22"): ("18 gal", "22 gal"),
    ("fuel", "18 gal in 22 gal cell"): ("18 gal", "22 gal"),
    ("fuel", "18/22"): ("18 gal", "22 gal"),
    ("fuel", "full, 22"): ("22 gal", "22 gal"),
    ("fuel", "half, 22 gal"): ("11 gal", "22 gal"),
    ("fuel", "empty, 22"): ("0 gal", "22 gal"),
    ("driver", "220 with all his gear"): ("220 lb",),
    ("driver", "185, yes"): ("185 lb",),
    ("driver", "185 lb with gear (yes)"): ("185 lb",),
    ("driver", "about 210"): ("210 lb",),
    ("driver", "~210 lbs or so"): ("210 lbs",),
    ("driver", "210ish"): ("210 lb",),
    ("fuel", "about 15 of 22"): ("15 gal", "22 gal"),
    ("track", "about a half mile, roughly 15"): ("1/2 mile", "15 deg"),
    ("springs", "300 lbs 325 lbs 200 lbs 225 lbs"): RATES,
    ("springs", "300/325/200/225"): RATES,
    ("springs", "300# 325# 200# 225#"): RATES,
    ("springs", "300, 325, 200, none"): (*RATES[:3], "0 lb/in"),
    ("bar", "no"): ("none",),
    ("bar", "No sway bar."): ("none",),
    ("bar", "-"): ("none",),
    ("bar", "0"): ("none",),
    ("bar", '1 1/8"'): ("1 1/8 in",),
    ("tires", "84\u00bd 86\u00be 85\u00bc 87\u00bd"): ROLL_OUTS,
    ("tires", '84 1/2" 86 3/4" 85 1/4" 87 1/2"'): ROLL_OUTS,
    ("track", "quarter mile flat"): ("1/4 mile", "0 deg"),
    ("track", "3/8 mile banked 14"): ("3/8 mile", "14 deg"),
    ("track", "3/8 mile 12 to 14"): ("3/8 mile", "13 deg"),
    ("track", "1,320 ft, 5"): ("1320 ft", "5 deg"),
    ("track", "half mile 10-14 deg"): ("1/2 mile", "12 deg"),
}


@pytest.mark.parametrize(("key", "answer"), SPOKEN, ids=lambda one: str(one))
def test_an_answer_is_read_as_it_was_meant_and_the_reading_is_told(key: str, answer: str) -> None:
    read = SPOKEN[key, answer]
    assert check_answer(BY_KEY[key], answer) == read
    told = understood(BY_KEY[key], answer)
    assert told in ("", ", ".join(read))
    assert told or "".join(read[0].split()) in "".join(answer.split()) or key == "axle"
    assert new_car(EXAMPLES | {key: answer}) == new_car(EXAMPLES | {key: ", ".join(read)})


REFUSED = {
    ("axle", "swing arm"): "write one of three-link",
    ("size", "105 65"): "3 values are needed",
    ("weights", "LF 776 RF 646 LR 844"): "does not start with a number",
    ("fuel", "22"): "2 values are needed",
    ("bar", "1 1/4 hollow"): "is no unit",
    ("bar", "do not know"): "does not start with a number",
    ("springs", "300, 325, leaf, leaf"): "does not start with a number",
    ("track", "1/2 mile"): "2 values are needed",
    ("track", "3/8"): "2 values are needed",
}


@pytest.mark.parametrize(("key", "answer"), REFUSED, ids=lambda one: str(one))
def test_what_cannot_be_meant_is_refused_with_what_would_be_right(key: str, answer: str) -> None:
    with pytest.raises(DocumentError, match=REFUSED[key, answer]) as told:
        check_answer(BY_KEY[key], answer)
    assert str(told.value).startswith(f"{key}: ")
    assert "write" in str(told.value)
