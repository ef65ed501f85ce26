// What pages can do beyond forms and links. Every page works without this file.
"use strict";

(() => {
  // A summary of problems is read first.
  document.querySelector(".problems")?.focus();
})();
