import { DRAWING_STYLE } from './draw/style.ts';

/**
 * How a written page looks, on screen and on A4 and Letter. Text and marks keep a contrast of 4.5 to 1 on their ground, in light and
 * in dark; on paper it is always light.
 */
export const HTML_STYLE = `
:root{color-scheme:light dark;--paper:#fbf8f1;--inset:#f3eee2;--ink:#22262b;--quiet:#54585d;--rule:#cdc4b1;--pencil:#a8320d;--pencil-wash:#f8e3d8;--carbon:#28557f;--carbon-wash:#dbe5ee;--carbon-wash-2:#c7d6e4;--ink-wash:#e6e0d1;--ink-wash-2:#d8d0bd;--ground:#c9d8e5;--lap:#5b2a86;--lap-wash:#e3d7f2}
@media (prefers-color-scheme:dark){:root{--paper:#191d21;--inset:#21262b;--ink:#ece7db;--quiet:#b5b2a8;--rule:#434a50;--pencil:#ff9a6e;--pencil-wash:#3a231a;--carbon:#93c2ee;--carbon-wash:#223548;--carbon-wash-2:#2b4259;--ink-wash:#33322d;--ink-wash-2:#424038;--ground:#2b4259;--lap:#caa6ff;--lap-wash:#3b2a55}}
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:17px/1.5 system-ui,-apple-system,"Segoe UI","Liberation Sans",Arial,sans-serif;-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0}
main,header{max-width:50rem;margin:0 auto;padding:0 1.2rem}
header{padding-top:1.6rem;border-bottom:3px solid var(--ink);padding-bottom:.8rem}
main{padding-bottom:3rem}
h1,h2,.word,.says{font-family:ui-serif,Charter,"Iowan Old Style","Palatino Linotype",Georgia,serif}
h1{margin:0;font-size:1.7rem;line-height:1.2}
h2{margin:2.2rem 0 .7rem;padding-bottom:.25rem;border-bottom:1px solid var(--rule);font-size:1.35rem;line-height:1.25}
h3{margin:1.4rem 0 .4rem;font-size:1.08rem}
p,li{max-width:75ch;overflow-wrap:anywhere}
p{margin:.5rem 0}
ul{padding-left:1.2rem}
li{margin:.3rem 0}
.quiet{color:var(--quiet)}
a{color:var(--carbon);text-underline-offset:.2em}
nav ul{columns:2 18rem;padding-left:1.2rem}
nav a{display:inline-block;min-height:24px}
.stamp{margin:1.3rem 0 .9rem;padding:.9rem 1.2rem;border:2px solid var(--ink)}
.stamp p{margin:.5rem 0 0;font-size:1.2rem;line-height:1.4}
.word{display:inline-block;padding:.2rem .9rem;border:3px solid;font-weight:700;font-size:1.45rem;line-height:1.3}
.differs{border-color:var(--pencil)}
.differs .word{border:5px double;color:var(--pencil)}
.undecided .word{border-style:dashed}
dl{display:grid;grid-template-columns:minmax(7rem,auto) minmax(0,1fr);gap:.3rem 1.2rem;margin:.6rem 0}
dt{color:var(--quiet)}
dd{margin:0;overflow-wrap:anywhere;max-width:70ch}
.diagnosis{margin:0 0 1.3rem;padding:.1rem 0 .1rem 1.2rem;border-left:4px solid var(--pencil)}
.diagnosis h3{margin-top:.2rem;font-size:1.2rem}
.cautions{padding:.4rem 1rem .4rem 2.1rem;border:2px solid var(--ink);background:var(--inset)}
.scroll{overflow-x:auto}
.scroll:focus-visible{outline:3px solid var(--carbon);outline-offset:2px}
${DRAWING_STYLE.trim()}
.legend path{fill:none}
svg .ground{fill:var(--ground);stroke:none}
svg .track{stroke:var(--quiet);stroke-width:.8}
svg .open{fill:var(--paper);stroke:var(--ink);stroke-width:1}
svg .gapdots{stroke:var(--ink);stroke-width:1.6;stroke-dasharray:1.6 3.4}
svg .lap{fill:var(--lap-wash);stroke:var(--lap);stroke-width:1}
svg .lapbars{stroke:var(--lap);stroke-width:1.6}
svg .seamgap{stroke:var(--pencil);stroke-width:2.2}
svg .seamlap{stroke:var(--lap);stroke-width:2.2;stroke-dasharray:7 4}
svg .boundary{stroke:var(--ink);stroke-width:1.6;stroke-dasharray:10 4 2 4}
svg .passno{font-weight:700;stroke:var(--paper);stroke-width:3;paint-order:stroke}
svg .scalebar{stroke-width:2}
svg .causeat circle{fill:var(--paper);stroke:var(--ink);stroke-width:1.4}
svg .causeat text{font-weight:700;font-size:14px}
.causeletter{display:inline-block;min-width:1.5em;padding:0 .3em;border:1.4px solid var(--ink);border-radius:1em;text-align:center;font-size:.85em}
.legend{display:flex;flex-wrap:wrap;gap:.2rem 1.4rem;padding:0;list-style:none}
.legend li{display:flex;gap:.5rem;align-items:center;margin:0}
.legend svg{flex:none}
table{width:100%;border-collapse:collapse;font-variant-numeric:tabular-nums}
th,td{padding:.3rem .9rem .3rem 0;border-bottom:1px solid var(--rule);text-align:left;vertical-align:top;font-weight:400}
thead th{border-bottom:2px solid var(--ink);font-weight:600}
.num{text-align:right}
td span{display:block;white-space:nowrap}
code{display:block;padding:.7rem .9rem;border:1px solid var(--rule);background:var(--inset);font:15px/1.5 ui-monospace,"SF Mono",Consolas,"Liberation Mono",monospace;white-space:pre-wrap;overflow-wrap:anywhere}
footer{margin-top:2rem;padding-top:.6rem;border-top:1px solid var(--rule);color:var(--quiet)}
@media (max-width:36rem){dl{grid-template-columns:minmax(0,1fr);gap:0}dd{margin-bottom:.5rem}}
@page{margin:14mm 13mm}
@media print{
:root{color-scheme:light;--paper:#fff;--inset:#f4f4f2;--ink:#000;--quiet:#444;--rule:#bbb;--pencil:#9c2c08;--pencil-wash:#fff;--carbon:#1e4a73;--carbon-wash:#dbe5ee;--carbon-wash-2:#c7d6e4;--ink-wash:#e9e6df;--ink-wash-2:#dad5c9;--ground:#d5e0ea;--lap:#5b2a86;--lap-wash:#efe8f7}
html{font-size:10.5pt;-webkit-print-color-adjust:exact;print-color-adjust:exact}
main,header{max-width:none;padding:0}
header{padding-bottom:3mm}
h2,h3{break-after:avoid}
.stamp,.setting,.diagnosis,.cautions,tr,.legend{break-inside:avoid}
thead{display:table-header-group}
.scroll{overflow:visible}
code{font-size:9.5pt}
}
`;
