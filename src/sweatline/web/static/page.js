// @ts-check
// Starts what a page carries: parts that come later, forms that keep what was typed, live values.
import { fetchParts } from "./later.js";
import { keepForms } from "./forms.js";
import { follow } from "./live.js";
import { watchFile } from "./file.js";
import { atTheBench } from "./bench.js";
import { followSliders } from "./follow.js";
import { moveMachine } from "./moving.js";

/** @param {ParentNode} within */
function start(within) {
  watchFile(within, start);
  fetchParts(within, start);
  keepForms(within, start);
  follow(within, start);
  atTheBench(within);
  moveMachine(within, start);
  followSliders(within, start);
}

start(document);
