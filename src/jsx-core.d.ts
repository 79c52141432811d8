/** What the drawings of the core use of Preact; its published types bring in those of browsers, which the core must not see. */
export interface VNode {
  type: unknown;
  props: object;
}
export type ComponentChildren = VNode | string | number | boolean | null | undefined | readonly ComponentChildren[];
export declare function h<P extends object>(type: (props: P) => VNode, props: P): VNode;
export declare function renderToString(node: VNode): string;
export declare namespace JSX {
  type Element = VNode;
  interface IntrinsicElements {
    [name: string]: object;
  }
  interface IntrinsicAttributes {
    key?: string | number;
  }
  interface ElementChildrenAttribute {
    children: unknown;
  }
}
