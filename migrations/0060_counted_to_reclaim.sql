-- What is decided to be reclaimed is counted once: what was counted before is no part of it, and what is
-- decided on again in its month stands under a measure of its own. Everything is worked out again.
update meta set rebuild_needed = 1;
