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
self.onmessage = (event) => {
  const { id, given } = event.data;
  try {
    self.tapedownReply(self.tapedownReduce(String(id), JSON.stringify(given)));
  } catch (fault) {
    self.postMessage({ id, fault: String(fault && fault.args ? fault.args : fault) });
  }
};
