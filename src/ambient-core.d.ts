/** What src/core may use of the web platform and finds in every browser, worker and Node: text codecs and messages to yield with. */
interface TextDecoder {
  decode(input?: ArrayBufferView | ArrayBuffer, options?: { stream?: boolean }): string;
}
declare var TextDecoder: {
  prototype: TextDecoder;
  new (label?: string, options?: { fatal?: boolean; ignoreBOM?: boolean }): TextDecoder;
};
interface TextEncoder {
  encode(input?: string): Uint8Array<ArrayBuffer>;
}
declare var TextEncoder: { prototype: TextEncoder; new (): TextEncoder };
interface MessagePort {
  onmessage: (() => void) | null;
  postMessage(message: null): void;
  close(): void;
}
declare var MessageChannel: { new (): { port1: MessagePort; port2: MessagePort } };

/** The one function of shpjs that the core uses; its published types bring in those of Node, which the core must not see. */
declare module 'shpjs' {
  export function parseShp(
    shp: DataView,
    prj?: string,
  ): ({ type: string; coordinates: unknown; bbox?: number[] } | null)[];
}
