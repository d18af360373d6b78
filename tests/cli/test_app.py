"""What the terminal does whatever the command: exit codes, one sentence on stderr, a quick help."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import version

import pytest
import typer

from pitchwright.cli import main
from pitchwright.cli.app import COMMANDS
from pitchwright.errors import InputError, InternalError


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> list[BaseException]:
    """Put a command ``fail`` into the program that raises what the list holds."""
    raised: list[BaseException] = []
    inside = typer.Typer()

    @inside.command("fail")
    def fail() -> None:
        raise raised[0]

    @inside.command("other")
    def other() -> None:
        pass

    monkeypatch.setattr("pitchwright.cli.app.app", inside)
    return raised


def test_the_version_is_the_installed_one(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "--version")
    assert (code, out, err) == (0, f"pitchwright {version('pitchwright')}\n", "")


@pytest.mark.parametrize("option", ["--help", "-h"])
def test_help_lists_every_command_with_what_it_is_for(
    capsys: pytest.CaptureFixture[str], option: str
) -> None:
    code, out, err = run(capsys, option)
    assert (code, err) == (0, "")
    listed = out.partition("Commands:")[2].splitlines()
    purposes = {words[0]: words[1:] for line in listed if (words := line.split())}
    assert list(purposes) == list(COMMANDS)  # so none goes on in a second line
    assert all(purposes.values())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_listed_can_be_had_and_has_a_help(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    code, out, err = run(capsys, name, "--help")
    assert (code, err) == (0, "")
    assert f" {name} " in out.splitlines()[0]


@pytest.mark.parametrize(
    "arguments",
    [("polish",), ("--loud",), ("read",), ("read", "--loud", "x.wav"), ("survey", "--a4", "high")],
)
def test_wrong_usage_is_one_line_and_code_2(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert "--help" in err


def test_a_missing_file_is_named_with_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "read", "no such take.wav")
    assert (code, out) == (2, "")
    assert err == "no such take.wav: There is no such file. Check the name and the folder.\n"


@pytest.mark.parametrize(
    ("raised", "code", "said"),
    [
        (InputError("It is empty", "a\nb.wav", "Record it"), 2, "a b.wav: It is empty. Record it."),
        (InternalError("The fit did not end"), 1, "The fit did not end."),
        (KeyboardInterrupt(), 130, "Stopped; what was finished before is kept."),
    ],
)
def test_an_error_becomes_its_sentence_and_its_code(
    capsys: pytest.CaptureFixture[str],
    failing: list[BaseException],
    raised: BaseException,
    code: int,
    said: str,
) -> None:
    failing.append(raised)
    assert run(capsys, "fail") == (code, "", f"{said}\n")


def test_a_fault_inside_shows_its_traceback_only_where_asked(
    capsys: pytest.CaptureFixture[str],
    failing: list[BaseException],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    failing.append(ZeroDivisionError("by\nnothing"))
    monkeypatch.delenv("PITCHWRIGHT_TRACEBACK", raising=False)
    code, out, err = run(capsys, "fail")
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1
    assert "ZeroDivisionError" in err
    monkeypatch.setenv("PITCHWRIGHT_TRACEBACK", "1")
    code, _, err = run(capsys, "fail")
    assert code == 1
    assert err.startswith("Traceback")


def test_help_waits_for_nothing_heavy() -> None:
    # Importing scipy takes longer than a person likes to wait for --help.
    program = (
        "import sys\n"
        "from pitchwright.cli import main\n"
        "from pitchwright.cli.app import COMMANDS\n"
        "for command in ([], *([name] for name in COMMANDS)):\n"
        "    try:\n        main([*command, '--help'])\n"
        "    except SystemExit:\n        pass\n"
        "heavy = {'numpy', 'scipy', 'soundfile', 'sqlalchemy'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert ran.stdout.startswith("Usage")
    assert ran.stderr == "[]\n"


def test_a_reader_that_goes_away_is_no_error() -> None:
    # What `pitchwright --help | head -1` does when head has seen enough.
    program = "import sys; from pitchwright.cli import main; sys.stdin.readline(); main(['--help'])"
    with subprocess.Popen(
        [sys.executable, "-c", program],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stdout is not None
        assert running.stdin is not None
        assert running.stderr is not None
        running.stdout.close()
        running.stdin.write("\n")
        running.stdin.flush()
        assert running.stderr.read() == ""
    assert running.returncode == 0
