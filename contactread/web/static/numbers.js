// Numbers in words of the page's scripts, with the decimal mark that the page uses.
"use strict";
const shown = (words) => "comma" in document.documentElement.dataset ? words.replace(/(\d)\.(?=\d)/g, "$1,") : words;
