"""`shipkeeper VERB`: the command line. Each verb is a file beside this, loaded when asked for.

Exit codes: 0 good, 1 done with warnings (or: alerts stand), 2 refused (bad orders, bad
arguments), 3 no daemon reached.
"""

from __future__ import annotations

import importlib

import click
from click.shell_completion import CompletionItem

# verb -> (module, name in it, one line). The line stands here so that --help loads nothing.
VERBS: dict[str, tuple[str, str, str]] = {
    "watch": ("watch", "watch", "Run the daemon in the foreground."),
    "setup": ("setup", "setup", "A few questions, what is heard on the ports: orders."),
    "check": ("check", "check", "Tell every problem in the orders."),
    "anchor": ("anchor", "anchor", "Set the anchor watch, or mend the mark."),
    "moor": ("moor", "moor", "Set the watch on a mooring."),
    "berth": ("berth", "berth", "Set the watch in a berth."),
    "underway": ("underway", "underway", "Set the watch under way."),
    "off": ("off", "off", "Set no watch."),
    "here": ("here", "here", "Answer that someone keeps the watch."),
    "crew": ("crew", "crew", "Say whether the crew is aboard or ashore."),
    "status": ("status", "status", "Watch, own ship, inputs, rules, outlets, alerts."),
    "alerts": ("alerts", "alerts", "The alerts that stand; all about one with its ID."),
    "ack": ("ack", "ack", "Acknowledge one alert."),
    "silence": ("silence", "silence", "Stop all sound for 30 seconds."),
    "shelve": ("shelve", "shelve", "Put one alert aside for a time."),
    "unshelve": ("unshelve", "unshelve", "Take an alert off the shelf."),
    "take": ("take", "take", "You have the watch, or one alert."),
    "transfer": ("transfer", "transfer", "Somebody else has one alert."),
    "hand-back": ("hand_back", "hand_back", "A taken alert calls again."),
    "handover": ("handover", "handover", "Who has the watch, until when."),
    "reset": ("reset", "reset", "Let a latched alert go."),
    "out-of-service": ("out_of_service", "out_of_service", "Keep one order quiet: mending."),
    "in-service": ("in_service", "in_service", "That order calls again."),
    "zone": ("zone", "zone", "Switch a zone off for a time, or on."),
    "targets": ("targets", "targets", "Range, bearing, CPA and TCPA of each target."),
    "measure": ("measure", "measure", "Range and bearing between two places."),
    "drill": ("drill", "drill", "Prove the way from an input to a person."),
    "log": ("log", "log_", "The journal."),
    "diagnose": ("diagnose", "diagnose", "Versions, orders, journal in one file; no secrets."),
    "fleet": ("fleet", "fleet", "Every boat of a broker, the newest trouble first."),
    "rehearse": ("rehearse", "rehearse", "Run the orders over recordings."),
    "wait-for": ("wait_for", "wait_for", "Ashore: raise the alarm when a boat falls silent."),
    "odds": ("odds", "odds", "Odds of false alarms and late ones of the drag rule."),
    "report": ("report", "report", "The night as one page, and as a small picture."),
}


class Verbs(click.Group):
    """Loads a verb's file only when that verb is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module, name, _ = VERBS[cmd_name]
        command = getattr(importlib.import_module(f".{module}", __package__), name)
        assert isinstance(command, click.Command)
        return command

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """click would load every verb for its line of help: seconds at each Tab on a board."""
        verbs = [
            CompletionItem(verb, help=line)
            for verb, (_, _, line) in VERBS.items()
            if verb.startswith(incomplete)
        ]
        return [*verbs, *click.Command.shell_complete(self, ctx, incomplete)]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl([(verb, line) for verb, (_, _, line) in VERBS.items()])


def _version(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if value and not ctx.resilient_parsing:
        from .version import versions

        click.echo(versions())
        ctx.exit()


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_version,
    help="Versions of shipkeeper and of what it stands on.",
)  # fmt: skip
def cli() -> None:
    """Keeps the watch of a boat at anchor, on a mooring or in a berth, and calls the right
    person, once, in time. An aid, never a look-out (COLREG rule 5).

    Exit codes: 0 good; 1 done with warnings, or alerts stand; 2 refused; 3 no daemon reached.
    """


def main() -> None:
    cli(prog_name="shipkeeper")


if __name__ == "__main__":
    main()
