-- purpose: prices in another currency than the rest, far from the price before, or in an order that no shop has
-- params: as_of
-- Far is five times or a fifth, judgement: no price of a shop moves so far at once. Of several patterns one item is
-- within twenty times (judgement). The order is of what one thing costs against another of the same pattern.
with known as (
    select *
    from known_costs($as_of::date)
),

main_currency as (
    select currency
    from known
    group by currency
    order by count(*) desc, min(from_on), currency
    limit 1
),

stepped as (
    select
        *,
        lag(amount) over (partition by pattern, item order by from_on) as amount_before,
        lag(from_on) over (partition by pattern, item order by from_on) as from_before
    from known
),

-- what holds last, a row an item
lasting as (
    select pattern, item, arg_max(amount, from_on) as amount, max(intake) as intake
    from known
    group by pattern, item
),

orders as (
    select *
    from (
        values
            ('filing_minute', 'hub_made'),
            ('filing_minute', 'workshop_fit'),
            ('hub_held', 'hub_made'),
            ('hub_made', 'failure'),
            ('filing_minute', 'failure'),
            ('postage', 'failure')
    ) as orders(less, more)
),

odd as (
    select
        format('price of {}, {} from {}', pattern, item, from_on) as place,
        format('in {}, where most are in {}', currency, (select currency from main_currency)) as found,
        intake
    from known
    where currency <> (select currency from main_currency)
    union all
    select
        format('price of {}, {} from {}', pattern, item, from_on),
        format('{:g}, where it was {:g} from {}', amount, amount_before, from_before),
        intake
    from stepped
    where amount_before > 0 and (amount >= 5 * amount_before or amount <= amount_before / 5)
    union all
    select
        format('price of {}, {}', one.pattern, one.item),
        format('{:g}, where {} has {:g}', one.amount, other.pattern, other.amount),
        greatest(one.intake, other.intake)
    from lasting as one
    join lasting as other on other.item = one.item and other.pattern <> one.pattern
    where other.amount > 0 and one.amount >= 20 * other.amount
    union all
    select
        format('price of {}, {}', less.pattern, less.item),
        format('{:g}, no less than {} with {:g}', less.amount, more.item, more.amount),
        greatest(less.intake, more.intake)
    from orders
    join lasting as less on less.item = orders.less
    join lasting as more on more.item = orders.more and more.pattern = less.pattern
    where less.amount > 0 and less.amount >= more.amount
)
select
    place,
    found,
    'if it is a slip, correct it with --correct' as next_step,
    intake
from odd
order by place, found;
