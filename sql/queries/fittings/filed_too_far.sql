-- purpose: how many hubs were filed, and how many of them too far, as known by a day
-- params: as_of
with filed as (
    select hub from known_fittings($as_of::date) where method in ('owner-fitted', 'workshop-fitted')
    union
    select hub from known_returns($as_of::date) where reason = 'filed-too-far'
),
spoiled as (
    select distinct hub from known_returns($as_of::date) where reason = 'filed-too-far'
)
select count(*)::integer as filed, count(spoiled.hub)::integer as too_far
from filed
left join spoiled on spoiled.hub = filed.hub
order by filed, too_far;
