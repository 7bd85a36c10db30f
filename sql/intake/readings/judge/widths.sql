-- purpose: the different widths, as typed, by unit and pattern; those that any reader takes alike already converted
-- params: plain_number, most_digits, share
create or replace temp table arriving_widths as
with texts as (
    select
        inspections.kind,
        readings.width as text,
        any_value(inspections.unit) as unit,
        any_value(inspections.pattern) as pattern,
        any_value(inspections.new_tenth_um) as new_tenth_um
    from arriving_readings as readings
    join arriving_inspections as inspections
        on inspections.text = readings.inspection and inspections.said_unit = readings.unit
    group by inspections.kind, readings.width
),

exact as (
    select
        texts.*,
        case
            when regexp_full_match(trim(text), $plain_number::varchar)
                and length(replace(ltrim(trim(text), '+-0'), '.', '')) <= $most_digits::integer
                -- in 38 digits: a slipped decimal point must be refused, not overflow
                then round(trim(text)::decimal(38, 9) * tenths_per_unit.tenths)
        end as tenths
    from texts
    left join tenths_per_unit using (unit)
)

select
    kind,
    text,
    unit,
    pattern,
    new_tenth_um,
    case
        when tenths > 0 and tenths <= 2000000
            and coalesce(abs(tenths - new_tenth_um) <= $share::decimal(9, 6) * new_tenth_um, true)
            then tenths::integer
    end as width_tenth_um,
    null::integer as problem
from exact;
