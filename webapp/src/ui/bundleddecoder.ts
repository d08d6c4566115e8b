// The decoder for browsers without one of their own: a chunk of its own, so
// that nobody else loads it. Script and wasm come from the same package; of
// two versions they would not fit together.
export { BarcodeDetector, prepareZXingModule } from "barcode-detector/ponyfill";
export { default as wasmURL } from "zxing-wasm/reader/zxing_reader.wasm";
