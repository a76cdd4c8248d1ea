# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line: parse, call, print, exit status. What the words do is elsewhere; `options` reads their values.

Imports are inside the commands on purpose: a table must not wait for a plotting library.
"""

import contextlib
import json
import shutil
import sys
import traceback
from collections.abc import Iterable
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from underglass.shot import UnderglassError

from .options import (
    DEPTH_OF_FIELD,
    EVERY_PIXEL,
    FRAMES,
    FULL_SIZE,
    PICTURES,
    SAMPLES,
    SCENE,
    SHOT,
    TOLERANCE,
    Count,
    Frames,
    Length,
    Offset,
    Size,
    into_folder,
)
from .telling.interruption import STATUS, WORDS, came, heed

if TYPE_CHECKING:
    from .telling.logs import Voice


class Status(IntEnum):
    """Exit status of every command."""

    HOLDS = 0
    FAILS = 1
    BAD_INPUT = 2
    BLENDER_FAILED = 3
    INTERRUPTED = STATUS


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit status; every error is one line on standard error."""
    heed()
    sys.exit(run(arguments))


def run(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status."""
    try:
        return int(cli.main(args=arguments, prog_name="underglass", standalone_mode=False) or Status.HOLDS)
    except click.exceptions.NoArgsIsHelpError as asked:
        click.echo(asked.format_message(), err=True)
        return Status.BAD_INPUT
    except click.ClickException as error:
        return _complain(_usage(error), Status.BAD_INPUT)
    except UnderglassError as error:
        from .blender.blender_process import BlenderError

        return _complain(str(error), Status.BLENDER_FAILED if isinstance(error, BlenderError) else Status.BAD_INPUT)
    except (KeyboardInterrupt, click.Abort):
        return _complain(WORDS, Status.INTERRUPTED)
    except BrokenPipeError:
        # The reader of a table had enough; Python would complain once more at exit.
        sys.stdout = None  # type: ignore[assignment]
        return Status.HOLDS
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        reason = " ".join(str(error.strerror or error).split())
        return _complain(f"{where}{reason}; earlier results are as they were", Status.BAD_INPUT)
    except MemoryError:
        return _complain("this machine has too little free memory for that", Status.BLENDER_FAILED)
    except Exception:
        if came():
            return _complain(WORDS, Status.INTERRUPTED)
        # A fault of ours must not look like a verdict: its status is not that of a proof that fails.
        traceback.print_exc()
        return _complain("this is a fault in Underglass itself; please report it", Status.BLENDER_FAILED)


def _usage(error: click.ClickException) -> str:
    """Return what is wrong with the command line as a sentence, and where its help is."""
    command = getattr(getattr(error, "ctx", None), "command_path", "underglass")
    return f"{error.format_message().rstrip('.')}. See {command} --help."


def _complain(text: str, status: Status) -> Status:
    # Where nobody reads it, the status still tells.
    with contextlib.suppress(OSError):
        _say(f"underglass: {text}", err=True)
    return status


def _say(text: str, *, err: bool = False) -> None:
    """Print ``text`` with a small square for what would steer a terminal: names and paths may hold anything."""
    from underglass.proof.wording import plain

    from .telling import annotations

    lines = [plain(line) for line in text.split("\n")]
    click.echo("\n".join(map(annotations.no_command, lines) if annotations.is_here() else lines), err=err)


def _say_json(text: str) -> None:
    """Print JSON, what would steer a terminal spelled as JSON's own escapes: a reader gets the same values."""
    from underglass.proof.wording import is_unseen

    click.echo("".join(_escaped(c) if is_unseen(c) and c != "\n" else c for c in text))


def _escaped(character: str) -> str:
    return json.dumps(character)[1:-1]


def _version(context: click.Context, _parameter: click.Parameter, asked: bool) -> None:
    if asked and not context.resilient_parsing:
        from importlib.metadata import version

        click.echo(f"underglass {version('underglass')}")
        context.exit(0)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version, help="Print the version."
)
def cli() -> None:
    """Plan, build and prove a shot on a multiplane stand.

    \b
    Example: underglass prove scenes/estuary/shot.toml
    """


@cli.command()
@click.argument("art", type=click.Path(path_type=Path))
@into_folder("Folder for the shot; it must be new or empty.")
@click.option(
    "--groups",
    default="keep",
    show_default=True,
    type=click.Choice(["keep", "flatten"]),
    help="Make a level of each layer in a group, or one level of each group.",
)
@click.option(
    "--units", default="in", show_default=True, type=click.Choice(["in", "mm", "cm"]), help="Units of the shot."
)
def new(art: Path, output: Path, groups: str, units: str) -> None:
    """Make a shot from layered art.

    ART is a folder of images, an OpenRaster file or a layered PSD. In a folder the first file, by number or name, is
    nearest the lens. Notes say what a stand cannot do and was left out.

    \b
    Example: underglass new estuary.ora -o estuary
    """
    from .art.new_command import make_shot

    make_shot(art, folder=output, groups=groups, units=units, echo=_say)


@cli.command()
@SHOT
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write to this file instead of the terminal.",
)
def table(shot: Path, output: Path | None) -> None:
    """Print size and place of every level.

    The table is CSV: size, place and turn of every level on every frame. It starts no Blender.

    \b
    Example: underglass table scenes/estuary/shot.toml -o plan.csv
    """
    from underglass.plan import make_plan
    from underglass.shot.files import read_shot

    from .report.csv_tables import plan_table
    from .results import write_text

    text = plan_table(make_plan(read_shot(shot)))
    if output is None and sys.stdout.isatty():
        _say(text.removesuffix("\n"))
    elif output is None:
        click.echo(text, nl=False)
    else:
        write_text(output, text)


@cli.command()
@click.argument("brief", type=click.Path(path_type=Path))
@into_folder("Folder for the planned shot and its painting guide.")
@click.option(
    "--prefer",
    default="movers",
    show_default=True,
    type=click.Choice(["movers", "travel"]),
    help="What counts first: the fewest levels that move, or the least travel.",
)
@click.option("--compromise", is_flag=True, help="If nothing fits, write the best plan inside the limits.")
@click.option("--json", "as_json", is_flag=True, help="Print the plan to standard output as JSON, and nothing else.")
def plan(brief: Path, output: Path, prefer: str, compromise: bool, as_json: bool) -> int:
    """Find the best stack for a walk.

    The walk goes through a world of real distances. The plan says where every level stands, what moves and what to
    paint. BRIEF is a brief.toml or its folder.

    Exit status: 0 a stack fits; 1 none fits, and the limits that clash are named; 2 bad input.

    \b
    Example: underglass plan scenes/estuary/brief.toml -o estuary
    """
    from .desk.plan_and_guide_commands import plan_and_write
    from .desk.planner import Prefer

    return plan_and_write(
        brief,
        out=output,
        prefer=Prefer(prefer),
        compromise=compromise,
        as_json=as_json,
        echo=_say_json if as_json else _say,
    )


@cli.command()
@SHOT
@into_folder("Folder for guide.html and the templates.")
@click.option(
    "--bleed",
    default=None,
    type=Length(),
    metavar="LENGTH",
    help="How far to paint beyond what the lens sees, such as 0.5in or 12mm. Default: 0.5in.",
)
def guide(shot: Path, output: Path, bleed: float | None) -> None:
    """Write what to paint for each level.

    The guide has the sizes with bleed, and a template of each level to paint into.

    \b
    Example: underglass guide scenes/estuary/shot.toml -o estuary-guide
    """
    from .desk.brief.brief_file import DEFAULT_BLEED
    from .desk.plan_and_guide_commands import guide_and_write

    guide_and_write(shot, out=output, bleed=DEFAULT_BLEED if bleed is None else bleed, echo=_say)


@cli.command()
@SHOT
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def check(shot: Path, as_json: bool) -> Status:
    """List what would go wrong.

    Looked at are art, travel, strobing, focus, jerks, light, and what the shot file expects of the picture. It starts
    no Blender.

    Exit status: 0 nothing blocks the shot; 1 something does; 2 bad input.

    \b
    Example: underglass check scenes/estuary/shot.toml
    """
    from .desk.check_command import blocks, check_lines, check_shot, findings_json

    looked_at, findings = check_shot(shot)
    if as_json:
        _say_json(findings_json(findings))
    else:
        columns = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
        for line in check_lines(looked_at, findings, columns=columns):
            # what names and messages hold is made plain there; the colours are ours
            click.echo(line)
    return Status.FAILS if blocks(findings) else Status.HOLDS


@cli.command()
@SHOT
@into_folder("Folder for the sheets.")
@click.option("--pdf", is_flag=True, help="Make a PDF too. It needs Chromium.")
@click.option(
    "--paper", default="a4", show_default=True, type=click.Choice(["a4", "letter"]), help="Paper size of the PDF."
)
def sheets(shot: Path, output: Path, pdf: bool, paper: str) -> None:
    """Write what each operator sets.

    The position sheets have every reading on every frame, as a page to print and as CSV.

    \b
    Example: underglass sheets scenes/estuary/shot.toml -o estuary-sheets --pdf
    """
    from .desk.sheets.write_sheets import write_sheets

    for path in write_sheets(shot, folder=output, pdf=pdf, paper=paper):
        _say(f"wrote {path}")


@cli.command()
@SHOT
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The .blend to write. If it exists, its stack is replaced and the rest stays.",
)
@click.option(
    "--proof-passes",
    is_flag=True,
    help="Add a pass for each level, so that rendered frames can be judged by prove --frames-from.",
)
@click.option(
    "--engine",
    default="cycles",
    show_default=True,
    type=click.Choice(["cycles", "eevee"]),
    help="The engine that will render the scene.",
)
@click.option("--pack", is_flag=True, help="Put the art into the .blend. It then renders without the shot's folder.")
def build(shot: Path, output: Path, proof_passes: bool, engine: str, pack: bool) -> None:
    """Build the stack as a Blender file.

    The levels stand at their real spacings, and every move is baked.

    \b
    Example: underglass build scenes/estuary/shot.toml -o estuary.blend
    """
    from .blender.build_blend import build_scene

    if notices := build_scene(shot, output=output, engine=engine, proof_passes=proof_passes, pack=pack):
        _say(f"underglass: warning: {output}: {'; '.join(notices)}; left as it is", err=True)
    _say(f"built {output}")


@cli.command()
@SHOT
@FRAMES
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the results. Default: proof beside SHOT, or proof-of-frames with --frames-from.",
)
@TOLERANCE
@SCENE
@click.option(
    "--frames-from",
    type=click.Path(path_type=Path, exists=False),
    metavar="DIR",
    help="Judge the EXR frames in this folder, which were rendered elsewhere. Nothing is rendered.",
)
@click.option(
    "--offset",
    default=0,
    type=Offset(),
    metavar="N",
    help="With --frames-from: how much higher the files are numbered than the shot, such as 1000.",
)
@click.option(
    "--part",
    is_flag=True,
    help="With --frames-from and --frames: judge these frames alone, before the others are there.",
)
@PICTURES
@FULL_SIZE
@SAMPLES
@DEPTH_OF_FIELD
@EVERY_PIXEL
@click.option(
    "--threads",
    default=0,
    type=Count("threads", 0, 1024),
    metavar="N",
    help="Threads that render. Default: one for each core.",
)
@click.option(
    "--jobs",
    default=1,
    show_default=True,
    type=Count("jobs", 1, 256),
    metavar="N",
    help="Processes that share the work.",
)
@click.option(
    "--cluster", default="", metavar="ADDRESS", help="Share the work among the workers of this Dask scheduler."
)
@click.option(
    "--work",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for work that need not be done again. Default: work in the results folder.",
)
@click.option(
    "--keep",
    default=0,
    type=Size(),
    metavar="SIZE",
    help="Keep the work of earlier states too, until the folder has this size, such as 20GB. The oldest goes first.",
)
@click.option(
    "--share",
    default=(),
    type=Frames(),
    metavar="LIST",
    help="Only do the work of these test frames, into the folder of --work. Nothing is judged.",
)
@click.option(
    "--job-key", default="", metavar="KEY", help="Refuse the work of any other job. A farm's template sets it."
)
@click.option(
    "--log",
    default="plain",
    show_default=True,
    type=click.Choice(["plain", "openjd"]),
    help="Report progress and failure in plain lines, or in the words of Open Job Description.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print events, one line of JSON each. The last has the whole proof."
)
def prove(shot: Path, **choices: Any) -> int:
    """Measure every frame and judge it.

    Every frame of SHOT is rendered in Blender, every level is measured in the pixels, and the parallax is compared with
    the plan. SHOT is a shot.toml or its folder.

    Exit status: 0 it is as planned; 1 it is not; 2 bad input; 3 Blender failed; 130 interrupted.

    \b
    Example: underglass prove scenes/estuary/shot.toml --out estuary-proof
             underglass prove scenes/estuary/shot.toml --frames-from render
    """
    if choices["frames_from"] is not None:
        return _prove_delivered(shot, choices)
    if choices["offset"]:
        raise click.UsageError("--offset needs --frames-from: it is about the names of delivered files")
    if choices["part"]:
        raise click.UsageError("--part needs --frames-from: it is for frames that were rendered elsewhere")
    jobs = click.get_current_context().get_parameter_source("jobs")
    if choices["cluster"] and jobs is click.core.ParameterSource.COMMANDLINE:
        raise click.UsageError(
            "--jobs cannot be used with --cluster: as many workers as are started there share the work"
        )
    from .proving.prove_command import do_share, prove_and_write
    from .proving.prove_shot import PAGE_WIDTH, Options

    options = Options(
        frames=choices["frames"],
        tolerance_px=choices["tolerance"],
        scene=choices["scene"],
        pictures=choices["pictures"],
        picture_samples=choices["samples"],
        depth_of_field=choices["depth_of_field"],
        picture_width=0 if choices["full_size"] else PAGE_WIDTH,
        step=1 if choices["every_pixel"] else 0,
        threads=choices["threads"],
        jobs=choices["jobs"],
        cluster=choices["cluster"],
        job_key=choices["job_key"],
        keep=choices["keep"],
    )
    if choices["share"]:
        if choices["work"] is None or not choices["frames"]:
            raise click.UsageError("--share needs --work, where the work is put, and --frames, all test frames")
        return do_share(shot, options=options, share=choices["share"], work=choices["work"], voice=_voice(choices))
    return prove_and_write(shot, options=options, out=choices["out"], work=choices["work"], voice=_voice(choices))


@cli.command()
@SHOT
@into_folder("Folder for template.json.")
@FRAMES
@SCENE
@TOLERANCE
@PICTURES
@FULL_SIZE
@SAMPLES
@DEPTH_OF_FIELD
@EVERY_PIXEL
@click.option(
    "--render",
    type=click.Path(path_type=Path, exists=False),
    metavar="SCENE",
    help="Have the farm render this .blend, built with --proof-passes, and prove its frames.",
)
@click.option(
    "--chunk",
    default=4,
    show_default=True,
    type=Count("frames", 1, 10_000),
    metavar="N",
    help="How many frames make a task.",
)
def farm(shot: Path, output: Path, **choices: Any) -> None:
    """Write a job for a render farm.

    The farm has to speak Open Job Description. Nothing is rendered here: template.json says what each task runs, and
    the farm's own scheduler hands the tasks out.

    \b
    Example: underglass farm scenes/estuary/shot.toml --render estuary.blend -o estuary-job
             underglass farm scenes/estuary/shot.toml -o estuary-job
    """
    if choices["render"] is not None:
        _refuse(("scene", "samples", "full_size", "depth_of_field", "every_pixel"), "--render: its frames are judged")
    from .engines.farm_command import describe_job

    describe_job(shot, folder=output, choices=choices, echo=_say)


def _voice(choices: dict[str, Any]) -> "Voice":
    from .telling.logs import Log, Voice

    if choices["as_json"] and choices["log"] != Log.PLAIN.value:
        raise click.UsageError(f"--json cannot be used with --log {choices['log']}: standard output holds one of them")
    return Voice(_say, choices["as_json"], Log(choices["log"]))


def _refuse(names: Iterable[str], because: str) -> None:
    """Raise UsageError for an option on the command line that cannot be used with another one."""
    context = click.get_current_context()
    for name in names:
        if context.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"--{name.replace('_', '-')} cannot be used with {because}", ctx=context)


def _prove_delivered(shot: Path, choices: dict[str, Any]) -> int:
    """Prove frames that were rendered elsewhere; raises UsageError for what only goes with rendering."""
    rendering = ("scene", "samples", "full_size", "depth_of_field", "every_pixel")
    working = ("jobs", "cluster", "work", "keep", "share", "job_key")
    _refuse((*rendering, *working), "--frames-from: nothing is rendered")
    if choices["part"] and not choices["frames"]:
        raise click.UsageError("--part needs --frames: which part of the shot it is")
    from .delivered.delivered_command import prove_frames_and_write
    from .delivered.prove_delivered import DeliveredOptions

    options = DeliveredOptions(
        place=choices["frames_from"],
        frames=choices["frames"],
        tolerance_px=choices["tolerance"],
        pictures=choices["pictures"],
        threads=choices["threads"],
        offset=choices["offset"],
        part=choices["part"],
    )
    return prove_frames_and_write(shot, options=options, out=choices["out"], voice=_voice(choices))
