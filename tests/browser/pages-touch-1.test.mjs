import { everyPageOn } from './support/every_page.mjs';

// The widest and the narrowest screen that is touched; every page comes once and is then made narrow.
everyPageOn(['tablet', 'narrow'], [1, 2]);
