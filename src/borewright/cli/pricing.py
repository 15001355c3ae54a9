"""`borewright quote JOB` and `borewright rigcard JOB`."""

from __future__ import annotations

import argparse

from borewright.errors import BadInput

__all__ = ["add_quote", "add_rigcard", "run_quote", "run_rigcard"]


def add_quote(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `quote`."""
    parser.add_argument("job", metavar="JOB", help="the job: its id, the start of it, its reference or title")
    parser.add_argument("--register", metavar="NAME", help="work the odds out from this register first (default: the odds last told)")
    parser.add_argument("--depth", metavar="DEPTH", default="120 m", help="deepest to plan for (default 120 m)")
    parser.add_argument("--contract", choices=("per-metre", "fixed", "promise"), default="per-metre", help="who carries the luck (default per-metre)")
    parser.add_argument("--price", metavar="AMOUNT", help="the fixed price before tax, such as \"14500.00\"; only with --contract fixed")
    parser.add_argument("--dry-share", metavar="SHARE", type=float, help="part of the charge that is due for a dry hole, 0 to 1")
    parser.add_argument("--deposit", metavar="AMOUNT", default="0", help="kept whatever happens, before tax")
    parser.add_argument("--by", default="office", help="who writes it")
    parser.add_argument("--json", action="store_true", help="print the whole quote as JSON")


def run_quote(arguments: argparse.Namespace) -> int:
    """Price the job, keep the quote in its book and print it."""
    from borewright.cli.output import print_json
    from borewright.pricing import sample_card
    from borewright.quantities import parse, show
    from borewright.storage import current_rate_card, open_job_book

    deepest = parse(arguments.depth, "depth", field="depth", default_unit="m").si
    card = current_rate_card() or sample_card()
    contract = _contract(arguments, card.currency)
    with open_job_book() as book:
        job = book.find(arguments.job)
        if arguments.register:
            from borewright.siting import open_register
            from borewright.work.ground import tell_odds

            tell_odds(book, job, open_register(arguments.register), by=arguments.by)
        from borewright.work.quoting import issue_quote

        entry = issue_quote(book, job, by=arguments.by, card=card, contract=contract, maximum_depth=deepest)
    body = entry.body
    content = body["content"]
    if arguments.json:
        print_json({"number": body["number"], "revision": body.get("revision", 1), "valid_until": body["valid_until"], **content})
        return 0
    money = _money(content["currency"])
    print(f"Quote {body['number']}, revision {body.get('revision', 1)}, stands until {body['valid_until']}  [{content['card_name']}]")
    print(f"{'':10}{'P10':>14}{'P50':>16}{'P90':>16}")
    rows = (("metres", lambda v: show(v, "depth")), ("seconds", lambda v: show(v, "time")), ("cost", money), ("price", money))
    for name, shown in rows:
        q = content[name]
        print(f"{'hours' if name == 'seconds' else name:10}{shown(q['p10']):>14}{shown(q['p50']):>16}{shown(q['p90']):>16}")
    print(f"chance of no usable water: {100 * content['chance_no_usable_water']:.0f} in 100")
    if content["promise"]:
        print("promise: " + content["promise"]["sentence"])
    for advisory in content["advisories"]:
        print(f"{advisory['severity']}: {advisory['message']}")
    return 0


def _money(currency: str):
    from borewright.pricing import show_minor

    return lambda value: show_minor(int(round(value)), currency)


def _contract(arguments: argparse.Namespace, currency: str):
    from borewright.pricing import fixed_price, per_metre, promise, read_minor

    deposit = read_minor(arguments.deposit, currency, field="deposit")
    if arguments.price is not None and arguments.contract != "fixed":
        raise BadInput("price", arguments.price, f"does not go with --contract {arguments.contract}", "--contract fixed, or no --price")
    share = {} if arguments.dry_share is None else {"dry_hole_share": arguments.dry_share}
    if arguments.contract == "fixed":
        if arguments.price is None:
            raise BadInput("price", None, "is missing", "the fixed price before tax, such as --price 14500.00")
        return fixed_price(read_minor(arguments.price, currency, field="price"), deposit=deposit, **share)
    return (per_metre if arguments.contract == "per-metre" else promise)(deposit=deposit, **share)


def add_rigcard(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `rigcard`."""
    parser.add_argument("job", metavar="JOB", help="the job: its id, the start of it, its reference or title")
    parser.add_argument("--json", action="store_true", help="print the card and the rule's whole table as JSON")


def run_rigcard(arguments: argparse.Namespace) -> int:
    """Print the stop rule of the quote last issued."""
    from borewright.cli.output import print_json
    from borewright.quantities import show
    from borewright.storage import open_job_book

    with open_job_book() as book:
        folded = book.job(book.find(arguments.job))
    if folded.quote is None:
        raise BadInput("job", arguments.job, "has no quote, so no stop rule", "borewright quote JOB first")
    content = folded.quote.body.content
    if arguments.json:
        print_json({"rows": content["rig_card"], "walk_away": content["walk_away"], "table": content["table"]})
        return 0
    print(f"{folded.title}: the need is {show(content['need'], 'flow')}; plan to {show(content['maximum_depth'], 'depth')} at most")
    print(f"{'depth':>8}  {'stop at':>14}  {'leave below':>14}  {'next 10 m, dry':>15}  {'with half the need':>19}")
    for row in content["rig_card"]:
        leave = "drill on" if row["leave_below"] is None else show(row["leave_below"], "flow")
        print(f"{show(row['depth'], 'depth'):>8}  {show(row['stop_at'], 'flow'):>14}  {leave:>14}  {100 * row['odds_dry']:>8.0f} in 100  {100 * row['odds_half']:>12.0f} in 100")
    print("A rule cannot see the ground: gas, loss of air, caving or water that the hole cannot hold back end the day whatever it says.")
    return 0
