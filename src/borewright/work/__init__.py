"""What a person does with a job, one module per stage: read the folded job, ask a calculation package, write the entry.

The web, the command line and the demo all call these; they hold the order of the work, never a formula::

    enquiry.open_job(book, title, *, by, customer=None, need=None, site=None, at=None) -> UUID
    ground.tell_odds(book, job, register, *, by, opinion=None) -> Entry                                   (ground.odds)
    quoting.issue_quote(book, job, *, by, contract=None, maximum_depth=120.0) -> Entry                    (quote.issued)
    quoting.accept_quote(book, job, *, name, by) -> Entry                                                 (quote.accepted)
    quoting.estimate_against_actual(job) -> {"rows": [...], "lacks"}: metres, hours, price, cost, profit
    bore.design_expected / design_logged(book, job, *, by) -> Entry                                       (bore.design)
    bore.plan_expected / plan_logged(book, job) -> BoreDesign, nothing written; plan_sealing(job, hole, way=, mix=, chips=, waste=, bag_mass=) -> dict
    designing.keep_by_hand(book, job, design, *, by) -> Entry; last_design(job); compare_offers(...); design_settings / catalogue_of(folder)
    stock.stock_to_order(book) -> Order; stock.summed([(title, materials), ...])
    bore.seal_failed(book, job, *, by, reason, ...) -> Entry                                                           (rig.sealed_off)
    onrig.what_now(job) -> WhatNow | None; onrig.measure_flow(book, job, method, readings, *, depth, by)  (rig.flow)
    testing.fit_run(book, job, run, *, by), testing.rate_job(book, job, *, by, neighbours=(), ...)        (test.fitted, test.rated)
    joint.fit_together(hole, run, *, alone=False, solutions=None, hold=None, part_open=None, observed=None) -> Together; joint.keep_fit(book, job, run, *, by, chosen=None, hold=None)
    steps.step_result(hole, run), slugs.slug_result(hole, run, **geometry): what a step or a slug run tells
    loggers.preview_levels(book, sha256, picks) -> Preview; loggers.keep_levels(book, job, run, sha256, picks, *, by)    (test.levels)
    planning.keep_plan(book, job, inputs, *, by)                                                           (test.planned)
    planning.settling(hole, run) -> Settling | None; effects.effects_of(job, given, times): neighbours and streams
    pump.choose(book, job, *, by, pump=, riser=PipeRun(...), main=, price_minor=, further_fall=, ...) -> Entry  (pump.chosen)
    supply.tell_demand(book, job, numbers, *, by, tank=), supply.tell_sun(book, job, irradiation, *, by)  (pump.demand, pump.sun)
    water.judge(book, job, values, *, use, by) -> Entry; water.rows_of_csv(text), water.as_kept(row)      (water.analysis)
    season.outlook(jobs, *, season_jobs, correlation, ruin_allowed, today) -> Outlook                     reserve, ledger, ways of picking, pace
    learning.time_model(jobs) -> TimeModel; learning.told_and_found(jobs) -> [Told(way_of_picking, odds, found)]
    trackrecord.first_record(name, folder, *, need=, progress=) -> Standing | None                        of a register just loaded
    ownbores.refresh_own_bores(book, folder) -> LoadReport | None; ownbores.register_with_own(book, name, folder) -> Register
"""
