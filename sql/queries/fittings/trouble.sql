-- purpose: hubs that made trouble before they ran, by the shaft they were sent to: whoever has trouble measures again
-- params: as_of
select distinct
    dispatch.shaft as shaft,
    dispatch.sent_on as sent_on
from known_dispatches($as_of::date) as dispatch
where dispatch.shaft is not null
  and (
      dispatch.hub in (
          select hub
          from known_returns($as_of::date)
          where reason in ('would-not-go-on', 'slack-on-trial', 'filed-too-far', 'register-misfit')
      )
      or dispatch.hub in (select hub from known_fittings($as_of::date) where went_on = 'would-not')
  )
order by shaft, sent_on;
