// Runs the engine, the same Python source as everywhere, beside the page. Messages: see web/sheet/engine/bundle.py.
"use strict";
const began = performance.now();
self.window = self; // the runtime looks for a window; a worker has none
importScripts("brython.js", "engine.js");
self.tapedownReply = (text) => self.postMessage(JSON.parse(text));
__BRYTHON__.parse_options({ debug: 0 });
try {
  __BRYTHON__.runPythonSource("import sheet_engine", "sheet_main");
  self.postMessage({ ready: true, ms: Math.round(performance.now() - began) });
} catch (fault) {
  self.postMessage({ fault: String(fault && fault.args ? fault.args : fault) });
}
/** The explanations are loaded once the engine is ready: the first value must not wait for them. */
const explain = (...given) => {
  if (!self.tapedownExplain) __BRYTHON__.runPythonSource("import sheet_explaining", "sheet_explaining_main");
  return given.length ? self.tapedownExplain(...given) : "";
};
setTimeout(explain, 1000);
self.onmessage = (event) => {
  const { id, given } = event.data;
  const { explaining, ...reading } = given;
  const asked = explaining ? explain : self.tapedownReduce;
  const texts = (explaining ? [reading, explaining] : [reading]).map((part) => JSON.stringify(part));
  try {
    self.tapedownReply(asked(String(id), ...texts));
  } catch (fault) {
    self.postMessage({ id, fault: String(fault && fault.args ? fault.args : fault) });
  }
};
