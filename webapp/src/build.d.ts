// What the build program (webapp/build) puts into the bundles.

/** Address of the bundled core worker, under /assets/. */
declare const CORE_WORKER_URL: string;

/** Address of the compiled Go core, under /assets/. */
declare const CORE_WASM_URL: string;

/** Short name of this version of the app: it changes when its content does. */
declare const VERSION: string;

/** Every file to keep for offline use; only in the service worker. */
declare const PRECACHE: { url: string; revision: string | null }[];

/** The Go toolchain's own loader; it sets the global Go. */
declare module "go:wasm_exec";

// A wasm file is imported as its address: the build copies it to /assets/ under
// a hashed name. The scanner's decoder needs it, or it would ask a public CDN:
//
//	import reader from "zxing-wasm/reader/zxing_reader.wasm";
//	prepareZXingModule({ overrides: { locateFile: () => reader } });

/** A stylesheet: bundled, not read by the script. */
declare module "*.css";
