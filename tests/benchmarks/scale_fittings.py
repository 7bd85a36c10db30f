"""The hubs of the store of `scale_store`: sent, fitted, asked after, come back; written straight into the tables.

Three shafts in ten get a second hub. Hubs as supplied are the loosest that the first inspection would have slide on,
hubs filed by hand the next tighter. How long they hold hangs on the true gap by the law of `LAW`.
"""

from __future__ import annotations

LAW = {
    "second": 0.3,
    "over": 10.0,
    "grid": 25.0,
    "largest": 100.0,
    "level": -4.0,
    "slope": 0.5,
    "shape": 1.2,
    "other_months": 240.0,
    "unasked": 0.6,
}
"""Share of shafts with a second hub; space over width (um); sizes (um); log of failures a year at no gap and its slope
by 10 um; Weibull shape; mean months to another end; share of failures reported unasked."""

FITTINGS = (
    """create temp table sent as
    with told as (
        select
            born.i as i,
            born.shaft as shaft,
            born.pattern as pattern,
            born.wear_um as wear_um,
            born.wear_um - read_by.bias_um as told_um,
            nth,
            born.i * 2 + nth - 1 as j,
            even(born.i, 400 + nth, 1) as by_method,
            date '2021-07-01' + (hash(born.i) % 1600)::integer as first_on
        from born
        join read_by on read_by.k = born.i * 3,
        range(1, 3) as fitted(nth)
        where nth = 1 or even(born.i, 399, 1) < $second
    ), chosen as (
        select
            *,
            case when by_method < 0.3 then 'as-supplied' when by_method < 0.8 then 'owner-fitted'
                else 'workshop-fitted' end as method,
            $grid * least(greatest(
                case when by_method < 0.3 then floor((told_um + $over) / $grid)
                    else ceil((told_um + $over) / $grid) end,
                0
            ), $largest / $grid) as undersize_um
        from told
    )
    select
        *,
        greatest(wear_um + $over - undersize_um, 0) + 1.5 as gap_um,
        first_on + 8 + case nth when 1 then 0 else 420 end as sent_on,
        first_on + 12 + (hash(j) % 20)::integer + case nth when 1 then 0 else 420 end as fitted_on,
        format('H{:08d}', j) as hub,
        format('F{:08d}', j) as fitting
    from chosen
    where first_on + 40 + case nth when 1 then 0 else 420 end < date '2026-06-30'""",
    """create temp table ran as
    select
        sent.*,
        least(
            case when loose <= other then loose else other end,
            coalesce(
                datediff('day', fitted_on, lead(fitted_on) over (partition by sent.i order by nth)), 100000
            ) / 30.44,
            datediff('day', fitted_on, date '2026-06-30') / 30.44
        ) as months,
        loose,
        other
    from (
        select
            *,
            12 * pow(-ln(1 - even(j, 410, 1)) / exp($level + $slope * gap_um / 10), 1 / $shape) as loose,
            -$other_months * ln(1 - even(j, 411, 1)) as other
        from sent
    ) as sent""",
    """insert into batches by name
    select
        format('{}-{}-{}', pattern, undersize_um::integer, year(sent_on)) as batch,
        pattern,
        undersize_um,
        min(sent_on) - 30 as made_on,
        count(*)::integer as quantity,
        'steel' as material,
        true as hardened,
        1 as intake
    from sent group by pattern, undersize_um, year(sent_on) order by batch""",
    """insert into hubs by name
    select
        hub,
        sent.pattern as pattern,
        undersize_um,
        format('{}-{}-{}', sent.pattern, undersize_um::integer, year(sent_on)) as batch,
        case when even(j, 420, 1) < 0.3 then patterns.space_width_mm - undersize_um / 1000 + bell(j, 421, 1) / 1000 end
            as space_width_mm,
        case when even(j, 420, 1) < 0.3 then 1.5 end as space_u_um,
        1 as intake
    from sent join patterns on patterns.pattern = sent.pattern order by hub""",
    """insert into orders by name
    select
        format('R{:08d}', j) as "order",
        sent_on - 2 as ordered_on,
        pattern,
        shaft,
        'served' as outcome,
        1 as intake
    from sent order by j""",
    """insert into dispatches by name
    select
        hub,
        sent_on,
        shaft,
        format('R{:08d}', j) as "order",
        method as sent_as,
        case nth when 1 then format('I{:08d}', i * 3) end as inspection,
        false as told,
        1 as intake
    from sent order by hub""",
    """insert into fittings by name
    select
        fitting,
        shaft,
        hub,
        fitted_on::varchar as fitted_on,
        fitted_on as fitted_from,
        fitted_on as fitted_to,
        method,
        case nth when 1 then [format('I{:08d}', i * 3)] end as inspections,
        case when method = 'as-supplied' then 'slid-on' else 'pulled-on' end as went_on,
        true as seated,
        case when method != 'as-supplied' and even(j, 430, 1) < 0.1 then 10 + (hash(j) % 60)::integer end as filing_min,
        1 as intake
    from sent order by fitting""",
    """insert into follow_ups by name
    with asked as (
        select
            *,
            ask + 4 * even(j, 440 + ask, 1) as at_months
        from ran, (values (3), (9), (20)) as asks(ask)
        where even(j, 450 + ask, 1) < 0.4
    ), heard as (
        select fitting, fitted_on, at_months, 'tight' as state, 'asked' as prompted, null as cause
        from asked where at_months < months
        union all
        -- the first question after it came loose
        select fitting, fitted_on, min(at_months), 'loose', 'asked', 'flanks'
        from asked
        where loose <= other and loose < months + 1e-9 and at_months >= loose and even(j, 460, 1) >= $unasked
        group by fitting, fitted_on
        union all
        select fitting, fitted_on, loose + 0.5, 'loose', 'unasked', 'flanks'
        from ran where loose <= other and loose < months + 1e-9 and even(j, 460, 1) < $unasked
        union all
        select fitting, fitted_on, other + 0.5, 'removed', 'unasked', 'other'
        from ran where other < loose and other < months + 1e-9
    )
    select fitting, seen_on, min(state) as state, min(prompted) as prompted, min(cause) as cause, 1 as intake
    from (select *, fitted_on + (at_months * 30.44)::integer as seen_on from heard)
    where seen_on <= date '2026-06-30'
    group by fitting, seen_on
    order by fitting, seen_on""",
    """insert into returns by name
    select hub, fitted_on + ((loose + 1) * 30.44)::integer as returned_on, 'worked-loose' as reason, fitting, false as
        back_on_shelf, 1 as intake
    from ran
    where loose <= other and loose < months + 1e-9 and even(j, 460, 1) < $unasked / 2
        and fitted_on + ((loose + 1) * 30.44)::integer <= date '2026-06-30'
    order by hub""",
    """insert into costs by name
    select pattern, item, date '2020-01-01' as from_on, amount, 'EUR' as currency, 1 as intake
    from patterns, (values ('failure', 900.0), ('return', 35.0), ('filing_minute', 0.9), ('size_kept', 60.0),
        ('hub_made', 70.0), ('hub_held', 5.0), ('batch_setup', 90.0), ('lost_sale', 150.0), ('special', 60.0),
        ('workshop_fit', 130.0), ('postage', 12.0)) as prices(item, amount)
    order by pattern, item""",
    """insert into stock_counts by name
    select pattern, undersize_um, date '2026-06-01' as counted_on, 500 as on_hand, 1 as intake
    from undersizes_offered order by pattern, undersize_um""",
)
"""Statements behind those of `scale_store`, with the numbers of `LAW`."""
