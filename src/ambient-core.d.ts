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

/** What the core uses of sql.js, in the build that has its WebAssembly inside; its published types bring in those of Node. */
declare module 'sql.js/dist/sql-wasm-inline.js' {
  export type SqlValue = number | string | Uint8Array | null;
  export interface Statement {
    bind(values: readonly SqlValue[]): boolean;
    step(): boolean;
    get(): SqlValue[];
    run(values?: readonly SqlValue[]): void;
    free(): boolean;
  }
  export interface Database {
    prepare(sql: string): Statement;
    run(sql: string): Database;
    export(): Uint8Array;
    close(): void;
  }
  const init: () => Promise<{ Database: new (bytes?: Uint8Array) => Database }>;
  export default init;
}
