/** How the drawings look, on the page and in a written report. The colors are variables of the page around them. */
export const DRAWING_STYLE = `
.drawing{margin:.6rem 0 1.2rem}
.drawing svg{display:block}
.drawing text{fill:var(--ink);font-size:14.5px}
.drawing path{fill:none;stroke:var(--ink)}
figcaption{max-width:85ch;margin-top:.3rem;color:var(--quiet);font-size:.92rem}
.drawing .axis,.drawing .label,.drawing .label text{fill:var(--quiet)}
.drawing .label,.drawing .label text{paint-order:stroke;stroke:var(--paper);stroke-width:4px}
.drawing .caption{font-weight:700}
.frame .bar{stroke-width:5}
.frame .drive path{stroke-width:2}
.frame .drive .driveline{stroke-width:1.5;stroke-dasharray:9 5}
.frame .row .unit{fill:var(--paper);stroke:var(--quiet);stroke-width:1.3}
.frame .row text{fill:var(--quiet)}
.frame .planted .unit{fill:var(--ink);stroke:var(--ink)}
.frame .planted text{fill:var(--ink);font-weight:700}
.frame .section path{stroke-width:1.5}
.frame .section text{paint-order:stroke;stroke:var(--paper);stroke-width:5px}
.frame .section.broken path{stroke:var(--pencil);stroke-width:3}
.frame .section.broken text{fill:var(--pencil);font-weight:700}
.frame .span path{stroke:var(--quiet)}
.rulers .recorded ~ .caption{fill:var(--carbon)}
.rulers .band rect{fill:var(--ink-wash);stroke:var(--ink);stroke-width:1.2}
.rulers .other rect{fill:var(--ink-wash-2)}
.rulers .recorded rect{fill:var(--carbon-wash);stroke:var(--carbon)}
.rulers .recorded .other rect{fill:var(--carbon-wash-2)}
.rulers .hole rect{fill:var(--pencil-wash);stroke:var(--pencil);stroke-width:2;stroke-dasharray:6 4}
.rulers .hole text{fill:var(--pencil);font-weight:700}
.rulers .join path{stroke:var(--quiet);stroke-dasharray:2 4}
.rulers .differs path{stroke:var(--pencil);stroke-width:2;stroke-dasharray:none}
.rulers .differs .dot{fill:var(--pencil);stroke:none}
.rulers .off{fill:var(--pencil);font-weight:700}
.rulers .middle{stroke:var(--quiet);stroke-dasharray:12 4 2 4}
.rulers .scale path{stroke:var(--quiet)}
.rulers .scale text{fill:var(--quiet)}
.seamchart .tolerance{fill:var(--inset);stroke:var(--rule)}
.seamchart .grid path{stroke:var(--rule)}
.seamchart .stem{stroke:var(--rule);stroke-width:1.5}
.seamchart .recorded{fill:var(--paper);stroke:var(--carbon);stroke-width:2}
.seamchart .planted{fill:var(--ink);stroke:none}
.seamchart .reach{fill:transparent;stroke:none}
.timeline .pass rect{fill:transparent}
.timeline .pass.other rect{fill:var(--inset)}
.timeline .passnumbers{fill:var(--quiet);pointer-events:none}
.timeline .axisline{stroke:var(--rule)}
.timeline .declared{stroke-width:1.4;stroke-dasharray:7 5}
.timeline .width{stroke:var(--carbon);stroke-width:2.4}
.timeline .range{stroke:var(--carbon);opacity:.55}
.timeline .rail{fill:var(--paper);stroke:var(--rule)}
.timeline .on,.timeline .part{fill:var(--carbon);stroke:none}
.timeline .elsewhere{stroke:var(--carbon);stroke-width:1.5}
@media print{
.drawing{break-inside:avoid}
.drawing svg{width:100%;height:auto;max-height:240mm}
}
`;
