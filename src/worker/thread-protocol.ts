import type { Message, UserError } from '../core/shared/messages.ts';

/** One call of the library, in a worker that is ended after it. Files are their bytes. */
export interface ThreadCall {
  name: 'check' | 'rebuild';
  input: object & { map: PackedFile[]; boundary?: PackedFile[] };
}

export interface PackedFile {
  name: string;
  bytes: Uint8Array<ArrayBuffer>;
}

export type ThreadReply =
  | { kind: 'progress'; stage: string; done: number }
  | { kind: 'result'; value: unknown }
  | { kind: 'refused'; detail: Message & UserError['detail'] }
  /** A fault of the library, or no memory is left. */
  | { kind: 'broken'; text: string };
