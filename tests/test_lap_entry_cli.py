"""Lap lists of every kind on their way into the run log: columns, words for flags, and what is none."""

import re

from asked import good, refused, told
from begun import last_run

EXPORT = "Nr;Rd;Zeit;Flagge\n27;1;0:15,62;\n12;1;0:15,80;\n27;2;0:15,41;gelb\n12;2;0:15,71;\n27;3;0:15,44;\n"


def test_columns_and_the_own_car_are_told_once(full):
    (full / "export.csv").write_text(EXPORT, encoding="utf-16")
    assert 'such as "Zeit=time"' in refused("log", "laps", "last", "export.csv")
    columns = [word for told in ("Zeit=time", "Nr=car", "Rd=lap") for word in ("--column", told)]
    assert "2 cars (27, 12)" in refused("log", "laps", "last", "export.csv", *columns)
    good("log", "laps", "last", "export.csv", *columns, "--car", "27")
    assert [lap.time for lap in last_run().laps] == [15.62, 15.41, 15.44]
    good("log", "laps", "last", answers=EXPORT.replace("15,62", "15,60"))
    assert [lap.time for lap in last_run().laps] == [15.60, 15.41, 15.44]
    assert "says not what it holds" in refused("log", "laps", "last", "export.csv", "--column", "Zeit")
    assert 'no column is headed "Tempo"' in refused(
        "log", "laps", "last", "export.csv", "--column", "Tempo=time"
    )


def test_unknown_headings_are_asked_about_and_a_draft_is_mended_by_telling_them_anew(full):
    rows = "1;8,900;15,61;\n2;8,910;15,62;gut\n3;8,930;15,60;\n"
    (full / "splits.csv").write_text("Runde;Zwischenzeit;Rundenzeit;Anmerkung\n" + rows)
    asked = refused("log", "laps", "last", "splits.csv")
    assert "may be the lap time" in asked and 'such as "Zeit=time"' in asked
    wrong = ("--column", "Rundenzeit=time", "--column", "Anmerkung=note")
    said = refused(
        "log", "run", "--laps", "-", *wrong, answers="Runde;Rundenzeit;Anmerkung\n1;15,61;\n2;15,62;\n"
    )
    assert '"Anmerkung" is note' in said
    draft = re.search(r"--draft ([0-9a-f]+)", said)[1]
    told("log", "run", "--draft", draft, "--column", "Anmerkung=nothing")
    assert [lap.time for lap in last_run().laps] == [15.61, 15.62]


def test_own_words_for_a_flag_are_told_once(full):
    rows = "".join(f"{lap},15.{50 + lap},gruen\n" for lap in range(1, 13))
    (full / "words.csv").write_text(f"lap,time,flag\n{rows}13,20.1,gelb\n")
    text = good("log", "laps", "last", "words.csv")
    assert text.count('"gruen" is no word') == 1 and "this and 11 more laps" in " ".join(text.split())
    assert "--word" in text and "none of them counted as green" in good("log", "show")
    good("log", "laps", "last", "words.csv", "--word", "gruen=green", "--word", "gelb=yellow")
    good("log", "laps", "last", "words.csv")
    assert [lap.flag for lap in last_run().laps] == ["green"] * 12 + ["yellow"]
    assert "purple" in refused("log", "laps", "last", "words.csv", "--word", "gruen=purple")


def test_a_picture_is_no_lap_list_and_a_lap_list_no_document(full):
    (full / "x.png").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00")
    assert "x.png: is no text; name a lap list" in refused("log", "run", "--laps", "x.png")
    assert "x.png: is no text" in refused("laps", "x.png")
    assert "write log run --laps laps_heat.csv" in refused("keep", "laps_heat.csv")
