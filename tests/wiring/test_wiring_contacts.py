"""Contacts tried by a person at a real terminal, on the simulated machine's own module.

What a contact did is read from the machine's side: its remote tells coils and contacts.
"""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from plant_process import PlantProcess, until
from wiring_terminal import Terminal, run

from kiosk import cli, owner


def coils(plant: PlantProcess) -> list[str]:
    """The coils that are closed now."""
    return [name for name, closed in plant.do("status")["coils"].items() if closed]


def contacts(site: Path, *words: str, seconds: int = 1) -> Terminal:
    return Terminal("--site", str(site), "--contacts", "--seconds", str(seconds), "--data",
                    str(site.parent / "data"), *words)  # fmt: skip


def begin(terminal: Terminal) -> None:
    terminal.until('Type "ready"')
    terminal.type("ready")


def pass_over_to(terminal: Terminal, name: str) -> None:
    for other in ("alive", "beacon", "start_permit", "hold_healthy"):
        terminal.until(f'Type "{other}" to close it')
        if other == name:
            return
        terminal.type("")


def test_every_contact_closes_at_its_typed_name_and_is_left_open(
    plant: PlantProcess, site_file: Path
) -> None:
    """Each stays closed for so long that it is seen by a busy computer too."""
    with contacts(site_file, seconds=4) as terminal:
        cautions = terminal.until('Type "ready"')
        for words in ("maker", "nobody is at the machine", "spindle is off", "qualified"):
            assert words in cautions
        terminal.type("ready")
        for name in ("alive", "beacon", "start_permit", "hold_healthy"):
            terminal.until(f'Type "{name}" to close it')
            assert coils(plant) == []
            terminal.type(name)
            terminal.until(f"{name} CLOSED for")
            if name in ("start_permit", "hold_healthy"):  # behind the pulse relay, which pulses
                until(lambda name=name: plant.do("status")["contacts"][name], 1.5, f"{name} closed")
            else:
                until(lambda name=name: name in coils(plant), 1.5, f"{name} closed")
            others = {"start_permit", "hold_healthy", "beacon"} - {name}
            assert not others & set(coils(plant))
            terminal.until("module says: closed, then opened")
            assert coils(plant) == []
            terminal.until("Type yes, or no")
            terminal.type("yes")
        terminal.until('Type "watch"')
        terminal.type("watch")
        terminal.until("It opened by itself.")
        assert terminal.end() == 0
        assert terminal.text.count("module says closed, then opened; you saw: yes") == 5
    assert coils(plant) == []


@pytest.mark.parametrize("typed", ["", "start_permit"])
def test_nothing_is_written_before_the_word(
    plant: PlantProcess, site_file: Path, typed: str
) -> None:
    done = run("--site", str(site_file), "--contacts", typed=f"{typed}\n" if typed else "")
    assert done.returncode == 1
    assert "Nothing was written." in done.stdout
    assert coils(plant) == []


@pytest.mark.long
def test_any_other_word_passes_a_contact_over(plant: PlantProcess, site_file: Path) -> None:
    with contacts(site_file) as terminal:
        begin(terminal)
        for name in ("alive", "beacon", "start_permit", "hold_healthy"):
            terminal.until(f'Type "{name}" to close it')
            terminal.type(f"{name}s")
            terminal.until(f"{name} was passed over")
            assert coils(plant) == []
        terminal.until('Type "watch"')
        terminal.type("")
        assert terminal.end() == 1


@pytest.mark.parametrize(
    "ending", ["Ctrl-C", "SIGTERM", pytest.param("SIGHUP", marks=pytest.mark.long)]
)
def test_whatever_ends_it_opens_the_contact(
    plant: PlantProcess, site_file: Path, ending: str
) -> None:
    """By the program's own write: the module's watch is switched off."""
    plant.do("fault", name="watch_off")
    with contacts(site_file) as terminal:
        begin(terminal)
        pass_over_to(terminal, "start_permit")
        terminal.type("start_permit")
        until(lambda: "start_permit" in coils(plant), 3.0, "closed")
        if ending == "Ctrl-C":
            terminal.press(b"\x03")
        else:
            terminal.process.send_signal(getattr(signal, ending))
        until(lambda: coils(plant) == [], 2.0, "open")
        assert terminal.end() == 130


def test_a_module_whose_watch_is_off_is_told(plant: PlantProcess, site_file: Path) -> None:
    plant.do("fault", name="watch_off")
    with contacts(site_file) as terminal:
        begin(terminal)
        pass_over_to(terminal, "hold_healthy")
        terminal.type("")
        terminal.until('Type "watch"')
        terminal.type("watch")
        terminal.until("it stayed closed: set the module's communication watch to 1.0 s")
        assert terminal.end() == 1
    assert coils(plant) == []


def test_the_end_of_the_input_ends_it_with_everything_open(
    plant: PlantProcess, site_file: Path
) -> None:
    done = run("--site", str(site_file), "--contacts", "--seconds", "1",
               typed="ready\nalive\n")  # fmt: skip
    assert "module says: closed, then opened" in done.stdout
    assert done.returncode == 1  # nobody said what was seen
    assert coils(plant) == []


def test_a_line_that_is_cut_is_told_and_the_module_opens_by_its_watch(
    plant: PlantProcess, site_file: Path
) -> None:
    with contacts(site_file) as terminal:
        begin(terminal)
        pass_over_to(terminal, "start_permit")
        terminal.type("start_permit")
        until(lambda: "start_permit" in coils(plant), 3.0, "closed")
        plant.do("fault", name="closed", face="io")
        terminal.until("THE MODULE DOES NOT TELL ITS CONTACTS OPEN")
        assert coils(plant) == []
        plant.clear_faults()
        terminal.until("NOT TOLD OPEN")


def test_a_program_that_begins_to_run_opens_the_contact(
    plant: PlantProcess, site_file: Path
) -> None:
    with contacts(site_file, "--seconds", "5") as terminal:
        begin(terminal)
        pass_over_to(terminal, "hold_healthy")
        terminal.type("hold_healthy")
        until(lambda: "hold_healthy" in coils(plant), 3.0, "closed")
        assert plant.do("cycle_start", force=True)["ok"]
        until(lambda: coils(plant) == [], 1.5, "open")
        terminal.until("Type yes, or no")
        terminal.type("no, the machine ran")
        terminal.until('Type "watch"')
        terminal.type("")
        terminal.until("opened at once: the machine runs a program")
        assert terminal.end() == 1


@pytest.mark.parametrize(
    ("fault", "said"),
    [pytest.param("ignores_hold", "the machine runs a program", marks=pytest.mark.long),
     (None, "are not at rest")],
)  # fmt: skip
def test_a_machine_that_moves_is_refused(
    plant: PlantProcess, site_file: Path, fault: str | None, said: str
) -> None:
    """Without its fault the machine stops its feed at once, and its spindle coasts."""
    if fault is not None:
        plant.do("fault", name=fault)
    assert plant.do("cycle_start", force=True)["ok"]
    if fault is None:
        until(lambda: plant.do("status")["cycle"] == "held", 2.0, "held")
    done = run("--site", str(site_file), "--contacts", typed="ready\nalive\n")
    assert done.returncode == 1
    assert said in done.stdout
    assert "CLOSED" not in done.stdout


@pytest.mark.long
def test_a_module_that_does_not_answer_is_refused(plant: PlantProcess, site_file: Path) -> None:
    plant.do("fault", name="silent", face="io")
    done = run("--site", str(site_file), "--contacts", typed="ready\nalive\n")
    assert done.returncode == 1
    assert "Look at: unit number" in done.stdout


@pytest.mark.long
def test_a_contact_that_sticks_is_told(plant: PlantProcess, site_file: Path) -> None:
    with contacts(site_file) as terminal:
        begin(terminal)
        pass_over_to(terminal, "start_permit")
        plant.do("fault", name="permit_stuck")  # its coil stays open
        terminal.type("start_permit")
        terminal.until("module says: DID NOT CLOSE")
        terminal.until("Type yes, or no")
        terminal.type("no, lamp dark")
        terminal.until('Type "hold_healthy"')
        terminal.type("")
        terminal.until('Type "watch"')
        terminal.type("")
        terminal.until("you saw: no, lamp dark")
        assert terminal.end() == 1


def test_another_owner_is_seen_by_its_pulse(plant: PlantProcess, site_file: Path) -> None:
    """Somebody else's ALIVE, on another data folder: the first trial's own, here."""
    with contacts(site_file, "--seconds", "5") as first:
        begin(first)
        pass_over_to(first, "alive")
        first.type("alive")
        until(lambda: "alive" in coils(plant), 3.0, "pulsing")
        done = run("--site", str(site_file), "--contacts", typed="ready\nalive\n")  # fmt: skip
        assert done.returncode == 1
        assert "each device has one owner" in done.stdout


@pytest.mark.parametrize("step", [["--contacts"], ["--once"], ["--once", "--json"]])
def test_a_guard_on_the_data_folder_is_the_one_owner(
    site_file: Path, step: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    data = site_file.parent / "data"
    data.mkdir()
    with owner.hold(data, "taken"):
        assert cli.main(["wiring", "--site", str(site_file), "--data", str(data), *step]) == 2
    told = capsys.readouterr()
    assert "a guard runs on this data folder: stop it first" in told.err
    assert told.out == ""
