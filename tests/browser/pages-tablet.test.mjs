import { everyPageOn } from './support/every_page.mjs';

everyPageOn('tablet');
