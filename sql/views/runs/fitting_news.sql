-- purpose: what was heard of each fitting, a row an answer or a return, of all of them
-- params: none
create or replace macro known_fitting_news(as_of) as table
from fitting_news_of_shafts(as_of, null);
