"""Whether groups of fittings work loose alike: a log-rank statistic, its null redrawn on each fitting's schedule."""
