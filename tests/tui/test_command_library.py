"""The library's commands: what they print, their stable keys, and their exit codes."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from hingeleaf.model import Placement, Pose
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.root import main
from support.catalogue_motifs import quick, taller

Run = Callable[..., Result]


def lines(result: Result) -> list[str]:
    return result.stdout.splitlines()


def test_list_shows_a_table_with_columns_aligned(run: Run) -> None:
    shown = lines(run("list"))
    assert shown[0].split() == ["name", "hold", "size", "rev", "may", "sell", "tags"]
    assert [line.split()[0] for line in shown[2:5]] == ["gull", "moth", "wren"]
    assert {line.find(" mm") for line in shown[2:5]} == {shown[2].find(" mm")}
    assert shown[-1] == "3 motifs"
    assert all(line == line.rstrip() for line in shown)


def test_list_takes_a_query_of_several_words(run: Run, ask: Callable[..., Any]) -> None:
    assert lines(run("list", "tag:small", "-hold:door"))[2].startswith("moth")
    answer = ask("list", "haz", "tag:hedgerow")
    assert answer == {
        "query": "haz tag:hedgerow",
        "count": 1,
        "motifs": [
            {
                "name": "wren",
                "hold": "door",
                "size_mm": 40.0,
                "revision": 1,
                "may_sell": "yes",
                "tags": ["hedgerow/birds", "small"],
                "added": answer["motifs"][0]["added"],
            }
        ],
    }


def test_a_misspelt_option_is_not_taken_for_a_word(run: Run) -> None:
    assert "No such option '--limti'" in run("list", "--limti", "2", exit_code=2).stderr
    assert "No such option '--wiht'" in run("tag", "wren", "--wiht", "+x", exit_code=2).stderr


def test_list_of_the_first_says_how_many_there_are(run: Run) -> None:
    assert lines(run("list", "--limit", "2"))[-1] == "3 motifs, the first 2 shown"


def test_a_search_without_a_result_says_how_it_was_understood(run: Run) -> None:
    told = lines(run("list", "zebra", "size>5"))
    assert told[0] == "Nothing matches all of zebra size>5."
    assert told[1].startswith("zebra (") and told[1].endswith("): none")
    assert told[2].startswith("size>5 (") and told[2].endswith("): 3 motifs")
    assert told[3].startswith("Keys: tag, hold,")


def test_list_marks_the_word_that_it_cannot_understand(run: Run) -> None:
    result = run("list", "wren", "hold:dor", exit_code=2)
    assert result.stderr.splitlines()[:2] == ["wren hold:dor", "     ^^^^^^^^"]
    assert "There is no hold style 'dor'. Choose" in result.stderr


def test_list_of_the_panels(run: Run, ask: Callable[..., Any]) -> None:
    assert lines(run("list", "--panels"))[2].split()[:2] == ["nora", "2"]
    assert [(row["name"], row["motifs"]) for row in ask("list", "--panels", "nor")["panels"]] == [
        ("nora", 2)
    ]
    assert run("list", "--panels", "zebra").stdout == "No panel matches.\n"


def test_list_explains_the_queries_on_one_screen(run: Run) -> None:
    shown = lines(run("list", "--queries"))
    assert len(shown) <= 24 and max(map(len, shown)) <= 100
    assert any(line.startswith("tag:") for line in shown)


def test_show_draws_and_tells(run: Run) -> None:
    output = run("show", "wren").stdout
    assert any("\u2800" < letter <= "\u28ff" for letter in output)
    for fact in (
        "wren, revision 1",
        "door, 1 bridge",
        "at no size on card-220",
        "Hazel Barn",
        "yes, at most 50 copies",
    ):
        assert fact in output
    assert "not at all, never mirrored" in run("show", "moth").stdout


def test_show_has_stable_keys(ask: Callable[..., Any]) -> None:
    answer = ask("show", "wren")
    assert {*answer} == {
        *("name", "revision", "hold", "size_mm", "bridges", "windows", "slits", "turn_limit"),
        *("card", "safe_from_mm", "computed_from_mm", "flaps", "lift_mm", "weakest"),
        "lift_range_mm",
        *("cut_length_mm", "lifts", "cut_seconds"),
        *("sure_from_mm", "evidence", "smallest_mm", "largest_mm", "may_mirror", "may_bend"),
        *("tags", "notes", "source", "trials"),
        "revisions",
    }
    assert answer["source"]["copies_limit"] == 50
    assert answer["revisions"][0]["original"] == "wren.svg"


def test_show_tells_from_what_size_on_a_motif_is_safe_and_how_high_it_lifts(
    run: Run, ask: Callable[..., Any], tmp_path: Path
) -> None:
    (tmp_path / "kite.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
        '<path fill="none" stroke="#000" stroke-width="3" d="M30 3 46 22 30 57 14 22Z"/>'
        '<path d="M29 20h2v6h-2zM29 30h2v6h-2z"/></svg>'
    )
    run("add", str(tmp_path / "kite.svg"), "--hold", "spine")
    light, heavy = (ask("show", "kite", "--card", card) for card in ("card-160", "card-300"))
    assert 10 < light["safe_from_mm"] < heavy["safe_from_mm"] < 59
    assert light["flaps"] == 2
    assert 5 < light["lift_mm"] < 16 * math.sin(math.radians(60)), "half the kite is 16 mm wide"
    told = run("show", "kite", "--card", "card-300").stdout
    assert f"from {format_mm(heavy['safe_from_mm'])} upwards on card-300" in told
    assert f"2 flaps, up to {format_mm(heavy['lift_mm'])} high when they rest at 60°" in told


def test_show_an_old_revision(file: Path, ask: Callable[..., Any]) -> None:
    with quick(file) as library:
        library.update(taller(library.motif("gull")), expected_revision=1)
    assert ask("show", "gull")["size_mm"] == 62.5
    assert ask("show", "gull", "--revision", "1")["size_mm"] == 50.0


def test_show_gives_the_original_back_byte_for_byte(run: Run, tmp_path: Path) -> None:
    assert run("show", "wren", "--original", "-").stdout_bytes == b"<svg>wren</svg>\n"
    run("show", "wren", "--original", str(tmp_path / "out.svg"))
    assert (tmp_path / "out.svg").read_bytes() == b"<svg>wren</svg>\n"
    assert (
        "exists already"
        in run("show", "wren", "--original", str(tmp_path / "out.svg"), exit_code=2).stderr
    )
    assert "There is no original file" in run("show", "moth", "--original", "-", exit_code=2).stderr


def test_an_unknown_name_is_answered_with_the_nearest(run: Run) -> None:
    assert "Did you mean wren?" in run("show", "wrren", exit_code=2).stderr
    assert "Did you mean wren?" in run("show", "Wren", exit_code=2).stderr
    assert "Did you mean wren?" in run("show", "vren", exit_code=2).stderr, "also by another start"
    assert "Did you mean nora?" in run("check", "norah", exit_code=2).stderr
    assert "Did you mean card-220?" in run("cards", "crad-220", exit_code=2).stderr


def test_tag_puts_on_and_takes_off(run: Run, ask: Callable[..., Any]) -> None:
    assert run("tag", "moth", "+Night Flyers", "-small").stdout == "moth: night-flyers\n"
    answer = ask("tag", "--with", "tag:small", "gull", "+all")
    assert [motif["name"] for motif in answer["motifs"]] == ["gull", "wren"]
    assert "No tag was given" in run("tag", "moth", exit_code=2).stderr
    assert "No motif was given" in run("tag", "+x", exit_code=2).stderr


def test_tags_are_listed_renamed_and_merged(run: Run, ask: Callable[..., Any]) -> None:
    assert ask("tags") == {
        "tags": [
            {"name": "hedgerow", "motifs": 1},
            {"name": "hedgerow/birds", "motifs": 1},
            {"name": "small", "motifs": 2},
        ]
    }
    run("tags", "--rename", "hedgerow", "lane")
    answer = ask("tags", "--merge", "lane/birds", "small")
    assert answer == {"tags": [{"name": "small", "motifs": 2}]}
    assert "No tag is called 'x'" in run("tags", "--rename", "x", "y", exit_code=2).stderr


def test_remove_and_put_back(run: Run, ask: Callable[..., Any]) -> None:
    assert "Removed moth, gull" in run("remove", "moth", "gull").stdout
    assert ask("list")["count"] == 1
    run("remove", "--back", "moth")
    assert ask("list")["count"] == 2
    run("remove", "wren", "nobody", exit_code=2)
    assert ask("list")["count"] == 2, "all or nothing"
    assert "Nothing to remove was named." in run("remove", exit_code=2).stderr


def kept(ask: Callable[..., Any]) -> list[str]:
    return [row["name"] for row in ask("list", "--panels")["panels"]]


def test_a_removed_panel_leaves_its_motifs_and_comes_back_with_undo(
    file: Path, run: Run, ask: Callable[..., Any]
) -> None:
    with quick(file) as library:
        before = library.panels.get("nora")
    said = run("remove", "--panel", "nora").stdout
    assert said == "Removed panel nora. `hingeleaf undo` undoes it.\n"
    assert (kept(ask), ask("list")["count"]) == ([], 3)
    assert "No panel is called 'nora'" in run("check", "nora", exit_code=2).stderr
    assert run("undo").stdout == "Undone: Remove panel nora.\n"
    with quick(file) as library:
        assert library.panels.get("nora") == before


def test_panels_and_motifs_are_removed_as_one_change(
    file: Path, run: Run, ask: Callable[..., Any]
) -> None:
    with quick(file) as library:
        library.panels.save("maud", {}, [Placement("gull", 1, Pose(0, 0, 0, 30))])
    run("remove", "moth", "--panel", "nora", "--panel", "nobody", exit_code=2)
    assert (len(kept(ask)), ask("list")["count"]) == (2, 3), "all or nothing"
    both = ("--panel", "nora", "--panel", "maud", "--panel", "nora")
    assert ask("remove", "moth", *both) == {
        "motifs": ["moth"],
        "panels": ["nora", "maud"],
        "removed": True,
    }
    assert (kept(ask), ask("list")["count"]) == ([], 2)
    assert run("undo").stdout == "Undone: Remove moth and 2 panels.\n"
    assert (len(kept(ask)), ask("list")["count"]) == (2, 3)


def test_back_is_for_motifs_and_says_what_brings_a_panel_back(run: Run) -> None:
    refused = run("remove", "--back", "--panel", "nora", exit_code=2).stderr
    assert "`hingeleaf undo` restores a removed panel." in refused


def test_rename(run: Run, ask: Callable[..., Any]) -> None:
    assert ask("rename", "gull", "Herring Gull") == {"name": "herring-gull", "was": "gull"}
    assert ask("list", "herring")["count"] == 1
    assert ask("rename", "herring-gull", "Herring gull")["name"] == "herring-gull", "its own name"
    assert (
        "Another motif is called wren" in run("rename", "herring-gull", "Wren", exit_code=2).stderr
    )
    assert ask("list", "herring")["count"] == 1


def test_source_changes_only_what_is_named(run: Run, ask: Callable[..., Any]) -> None:
    run("source", "wren", "moth", "--licence", "CC0-1.0", "--may-sell", "no")
    assert ask("show", "wren")["source"]["maker"] == "Hazel Barn"
    assert ask("show", "wren")["source"]["may_sell"] == "no"
    assert ask("show", "moth")["source"]["licence"] == "CC0-1.0"
    run("undo")
    assert ask("show", "moth")["source"]["licence"] == ""
    run("source", "wren", exit_code=2)


def test_allow_changes_only_what_is_named(run: Run, ask: Callable[..., Any]) -> None:
    before = ask("show", "moth")
    told = ask("allow", "wren", "moth", "--turn", "25", "--mirror", "never", "--bend", "allowed")
    assert told["set"] == {"turn_limit": 25.0, "may_mirror": False, "may_bend": True}
    ask("allow", "wren", "--mirror", "allowed")
    wren, moth = ask("show", "wren"), ask("show", "moth")
    assert (wren["turn_limit"], wren["may_mirror"], wren["may_bend"]) == (25.0, True, True)
    changed = {key for key in before if before[key] != moth[key]}
    assert changed <= {"turn_limit", "may_mirror", "may_bend", "changed"}
    run("allow", "wren", exit_code=2)
    run("allow", "wren", "nobody", "--bend", "never", exit_code=2)
    assert ask("show", "wren")["may_bend"] is True


def test_undo_redo_and_what_was_done(run: Run, ask: Callable[..., Any]) -> None:
    run("tag", "gull", "+sea")
    assert run("undo").stdout == "Undone: Tag gull +sea.\n"
    assert run("redo").stdout == "Redone: Tag gull +sea.\n"
    changes = ask("undo", "--list")["changes"]
    assert (changes[0]["change"], changes[0]["undone"]) == ("Tag gull +sea", False)
    for _ in range(9):
        run("undo")
    assert run("undo").stdout == "There is nothing left to undo.\n"
    for _ in range(9):
        run("redo")
    assert run("redo").stdout == "There is nothing left to redo.\n"


def test_backup_and_doctor(run: Run, ask: Callable[..., Any], file: Path, tmp_path: Path) -> None:
    answer = ask("backup", "--out", str(tmp_path / "copy.db"))
    assert answer["motifs"] == 3 and answer["bytes"] == (tmp_path / "copy.db").stat().st_size
    assert "exists already" in run("backup", "--out", str(tmp_path / "copy.db"), exit_code=2).stderr
    run("backup")
    assert len(list(tmp_path.glob("library-20*.db"))) == 1
    assert run("doctor").stdout == f"{file} is sound.\n"
    with quick(file) as library, library.db.transaction():
        library.db.connection.execute("UPDATE motif SET size = 1")
    answer = ask("doctor", exit_code=1)
    assert answer["sound"] is False and answer["findings"][0]["repairable"] is True
    assert "repaired" in run("doctor", "--repair").stdout
    assert ask("doctor") == {"sound": True, "findings": []}


def test_automatic_backups_are_set_and_listed(run: Run, ask: Callable[..., Any]) -> None:
    assert "The newest 10 automatic backups are kept" in run("backup", "--list").stdout
    answer = ask("backup", "--keep", "3", "--every", "7", "--folder", "shelf")
    assert (answer["keep"], answer["every_days"], answer["backups"]) == (3, 7, [])
    assert answer["folder"].endswith("shelf")
    assert "0 to 1000" in run("backup", "--keep", "-1", exit_code=2).stderr
    assert "No automatic backups" in run("backup", "--keep", "0").stdout


def test_going_back_to_a_backup_asks_and_keeps_the_old_file(
    run: Run, ask: Callable[..., Any], tmp_path: Path
) -> None:
    copy = str(tmp_path / "copy.db")
    run("backup", "--out", copy)
    run("remove", "moth")
    assert "Nothing was done." in run("restore", "--whole", copy, answer="n\n", exit_code=2).stderr
    assert ask("list")["count"] == 2
    answer = ask("restore", "--whole", copy, "--yes")
    assert (answer["motifs"], ask("list")["count"]) == (3, 3)
    assert ask("list", "--library", answer["set_aside"])["count"] == 2


def test_bundle_and_restore(run: Run, ask: Callable[..., Any], tmp_path: Path) -> None:
    gift, shed = str(tmp_path / "gift.db"), str(tmp_path / "shed.db")
    assert "2 motifs and 1 panel" in run("bundle", "--panel", "nora", "--out", gift).stdout
    shown = run("restore", gift, "--show", "--library", shed).stdout
    assert [line.split()[:3] for line in shown.splitlines()[2:5]] == [
        ["motif", "moth", "new"],
        ["motif", "wren", "new"],
        ["panel", "nora", "new"],
    ]
    assert "Nothing was taken" in run("restore", gift, "--library", shed, answer="n\n").stdout
    assert ask("list", "--library", shed)["count"] == 0
    assert "Took 3 of 3" in run("restore", gift, "--library", shed, answer="y\n").stdout
    assert ask("list", "--library", shed)["count"] == 2
    assert "3 of 3 are the same in your library" in run("restore", gift, "--library", shed).stdout


def test_restore_asks_about_what_differs(run: Run, ask: Callable[..., Any], tmp_path: Path) -> None:
    gift = str(tmp_path / "gift.db")
    run("bundle", "--with", "tag:small", "--out", gift)
    run("tag", "moth", "+mine")
    assert "differs in tags" in run("restore", gift, answer="keep\n").output
    assert ask("show", "moth")["tags"] == ["mine", "small"]
    assert "moth is called moth-2 here" in run("restore", gift, answer="copy\n").stdout
    answer = ask("restore", gift, "--yes", "--different", "take")
    assert [each["name"] for each in answer["taken"]] == ["moth"]
    assert ask("show", "moth")["tags"] == ["small"]
    run("undo")
    assert ask("show", "moth")["tags"] == ["mine", "small"]


def test_without_a_library_there_is_a_plain_sentence(tmp_path: Path) -> None:
    for words in (["list"], ["show", "wren"], ["doctor"], ["undo"], ["tags"]):
        result = CliRunner().invoke(main, [*words, "--library", str(tmp_path / "none.db")])
        assert result.exit_code == 2
        assert result.stderr.startswith("hingeleaf: There is no library at")
        assert len(result.stderr.splitlines()) == 1


def test_list_loads_no_geometry(file: Path) -> None:
    import subprocess

    script = (
        "import sys\nfrom hingeleaf_tui.commands.root import main\n"
        f"main(['list', '--library', {str(file)!r}], standalone_mode=False)\n"
        "print([n for n in ('numpy', 'shapely', 'textual', 'sqlite_utils') if n in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert ran.stdout.splitlines()[-1] == "[]"


def test_revisions_are_listed_compared_and_brought_back(
    file: Path, run: Run, ask: Callable[..., Any]
) -> None:
    with quick(file) as library:
        library.update(taller(library.motif("gull")), expected_revision=1)
    assert [past["size_mm"] for past in ask("revisions", "gull")["revisions"]] == [50.0, 62.5]
    told = ask("revisions", "gull", "--compare", "1", "2")
    assert told["differs"] == ["size", "windows", "footprint"] and 0 < told["windows_shared"] < 1
    assert "They differ in size" in run("revisions", "gull", "--compare", "1", "2").stdout
    assert ask("revisions", "gull", "--back", "1")["revision"] == 3
    assert ask("show", "gull")["size_mm"] == 50.0
    assert "has no revision 9" in run("revisions", "gull", "--back", "9", exit_code=2).stderr
