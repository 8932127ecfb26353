//! A study compiled into lines: roll-ups, demand, cost, time, census, closing, explanation.
