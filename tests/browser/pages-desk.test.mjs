import { everyPageInOtherHands, everyPageOn } from './support/every_page.mjs';

everyPageInOtherHands();
// The two screens between the extremes, in the long run only.
if (process.env.LONG_RUNS) {
  everyPageOn(['upright']);
  everyPageOn(['desk']);
}
