// Asks for the cloth before all else of the page has come in: it takes the longest.

import { get } from './link.js';

export const cloth = get('cloth');
