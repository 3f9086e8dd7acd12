/**
 * Keeps the sheet on the phone. A version is a list of files in a cache of its own; a worker serves the files of its
 * own version and nothing else, so a page never mixes two. Everything that is asked of the office goes to the office.
 */

const VERSION = new URL(self.location.href).searchParams.get("v");
const CACHE = `sheet-${VERSION}`;
/** Asked of the office each time; never kept, never answered from here. */
const OFFICE = /^\/sheet\/(pair$|entries$|rounds\.json$|head\.json$|version\.json$|packs\/|blobs\/)/;

self.addEventListener("install", (event) => event.waitUntil(keepFiles()));
self.addEventListener("activate", (event) => event.waitUntil(dropOthers()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin || OFFICE.test(pathname)) return;
  event.respondWith(serve(request));
});

/** Take every file of this version, or none: a half version is not installed. */
async function keepFiles() {
  const { version, files } = await (await fetch("/sheet/version.json", { cache: "no-store" })).json();
  if (version !== VERSION) throw new Error(`the office has version ${version} by now, not ${VERSION}`);
  const cache = await caches.open(CACHE);
  try {
    await cache.addAll(files.map((file) => new Request(file, { cache: "reload" })));
  } catch (error) {
    await caches.delete(CACHE);
    throw error;
  }
}

/** Runs only when no sheet of an older version is open any more. */
async function dropOthers() {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith("sheet-") && name !== CACHE).map((name) => caches.delete(name)),
  );
}

async function serve(request) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(request, { ignoreSearch: true });
  return kept ?? fetch(request);
}
