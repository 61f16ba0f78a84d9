"""The page's looks: light, dark and on paper; blue and orange, which every reader tells apart."""

STYLE = """
:root{color-scheme:light dark;--page:#fff;--ink:#1b1d21;--soft:#565c66;--rule:#c9ced6;--panel:#f4f6f8;
--body:#b9c2cd;--unit:#0b5394;--mark:#b34700;--ok:#0b5394;--off:#9c3d00;--link:#0b5394}
@media (prefers-color-scheme:dark){:root{--page:#15171a;--ink:#e8eaed;--soft:#a6adb8;--rule:#3b414a;
--panel:#1e2126;--body:#4a535f;--unit:#7fb8f0;--mark:#ff9d4d;--ok:#7fb8f0;--off:#ffa865;--link:#8fc3f5}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:76rem;padding:1rem 1.25rem 3rem;background:var(--page);color:var(--ink);
font:1rem/1.5 system-ui,sans-serif;overflow-wrap:anywhere}
h1{font-size:1.6rem;margin:.5rem 0}h2{font-size:1.3rem;margin:2.2rem 0 .5rem;border-top:2px solid var(--rule);padding-top:1rem}
h3{font-size:1.05rem;margin:1.4rem 0 .3rem}p{margin:.3rem 0;max-width:48rem}a{color:var(--link)}
a:focus-visible,button:focus-visible,.wide:focus-visible{outline:3px solid var(--mark);outline-offset:2px}
.skip{position:absolute;left:-100vw}.skip:focus{left:1rem}
.soft,caption,figcaption{color:var(--soft);font-size:.9rem}.ok{color:var(--ok);font-weight:600}.off{color:var(--off);font-weight:600}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;margin:.4rem 0;font-size:.93rem}
caption{text-align:left;padding:.2rem 0}th,td{padding:.35rem .55rem;border-bottom:1px solid var(--rule);text-align:left;vertical-align:top}
th,td{min-width:6em}.num{min-width:4.5em}th{background:var(--panel)}.num{text-align:right;font-variant-numeric:tabular-nums}td.num{white-space:nowrap}
th button{font:inherit;font-weight:600;color:inherit;background:none;border:0;padding:.1rem;min-width:5.5em;cursor:pointer;text-align:inherit}
th button::after{content:"\\00a0\\2195";color:var(--soft)}th[aria-sort=ascending] button::after{content:"\\00a0\\2191"}
th[aria-sort=descending] button::after{content:"\\00a0\\2193"}
.store{position:absolute}svg{max-width:100%}.body{fill:var(--body)}
.unit{stroke:var(--unit);stroke-width:1.2;fill:none;vector-effect:non-scaling-stroke;stroke-dasharray:5 3}
.floor{stroke:var(--ink);stroke-width:1.6;fill:none;vector-effect:non-scaling-stroke}
.lead{stroke:var(--soft);stroke-width:.8;fill:none;vector-effect:non-scaling-stroke}
.mark{fill:var(--page);stroke:var(--ink);stroke-width:3}
.spot{stroke:var(--mark);stroke-width:7px;stroke-linecap:round;fill:none}.small{stroke-width:4.5px}
.count{fill:var(--unit);font-size:30px;text-anchor:end;paint-order:stroke;stroke:var(--page);stroke-width:.3em}.label{fill:var(--ink);font-size:30px}
.lineup{display:flex;flex-wrap:wrap;list-style:none;padding:0;margin:1rem 0;align-items:flex-start}
.lineup li{display:flex;flex-direction:column;align-items:center;padding-bottom:1rem}
.lineup a{display:flex;flex-direction:column;align-items:center;max-width:16rem;text-align:center}
.lineup svg{max-width:none}.lineup .count{font-size:11px}.lineup span{font-size:.9rem}
.views{display:flex;flex-wrap:wrap;gap:1.5rem;align-items:flex-end}figure{margin:.5rem 0}.view{height:27rem;max-height:80vh;display:block}
.bars,.planned{height:18rem}.planned .count{font-size:48px}.planned .label{font-size:38px}.bars rect{stroke:var(--page);stroke-width:2}.bars .odd{fill:var(--body)}.bars .even{fill:var(--unit);fill-opacity:.35}
.bars text{fill:var(--ink);font-size:13px}.thumb{height:7.5rem;width:auto;margin-right:.4rem}
.finding{display:grid;grid-template-columns:minmax(0,1fr) auto;gap:.2rem 1rem;border:1px solid var(--rule);border-left:6px solid var(--mark);
padding:.5rem .8rem;margin:.5rem 0;break-inside:avoid}.finding.told{border-left-color:var(--rule)}.finding h4{margin:0;font-size:1rem}
.tag{border:1px solid var(--rule);padding:0 .35rem;font-size:.85rem}ul{padding-left:1.2rem;margin:.3rem 0}
@media (max-width:40rem){.finding{grid-template-columns:1fr}}
@media print{:root{color-scheme:light;--page:#fff;--ink:#000;--soft:#444;--rule:#999;--panel:#eee;--body:#c4c9d0;--unit:#0b5394;
--mark:#b34700;--ok:#0b5394;--off:#9c3d00;--link:#000}
body{max-width:none;padding:0;font-size:9pt}p{max-width:none}.skip{display:none}.wide{overflow:visible}section.figure{break-before:page}
html{font-size:11.5px}.lineup{zoom:.72}th,td,.num,th button{min-width:0}th{overflow-wrap:normal}#figures td:nth-child(-n+2){min-width:8.5em}
svg,tr,.views,.lineup li,table:not(:has(tr:nth-of-type(16))){break-inside:avoid}h2,h3{break-after:avoid}.view{height:11cm}th button::after{content:""}a{text-decoration:none}
.body,.spot,.unit,th,.bars rect{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
"""
