//! The look of the page: light and dark, wide and narrow, screen and paper.

use crate::escape;

/// The style sheet; the foot of every printed page names study, program and digest.
pub fn sheet(title: &str, version: &str, digest: &str) -> String {
    let digest: String = digest.chars().take(12).collect();
    let foot = css_string(&format!("{title} · {version} · {digest}"));
    format!(
        "{SCREEN}\n{PRINT}\n@page{{size:A4;margin:18mm 15mm;@bottom-left{{content:{foot};font:8pt sans-serif;color:#595959}}@bottom-right{{content:counter(page) \" / \" counter(pages);font:8pt sans-serif;color:#595959}}}}\n"
    )
}

/// A CSS string that nothing can break out of: all but letters, digits and a few signs is escaped.
fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in escape::line(text).chars() {
        if c.is_alphanumeric() || matches!(c, ' ' | '.' | ',' | '-' | '·' | '_') {
            out.push(c);
        } else {
            out.push_str(&format!("\\{:x} ", u32::from(c)));
        }
    }
    out.push('"');
    out
}

const SCREEN: &str = "\
:root{color-scheme:light dark;--paper:#FFFFFF;--ink:#1B1F23;--soft:#595959;--rule:#C9CED3;--tint:#F3F5F7;--link:#005A8E;\
--good:#00704F;--bad:#A94700}
@media (prefers-color-scheme:dark){:root{--paper:#15191C;--ink:#E6E6E6;--soft:#B4BAC0;--rule:#4A525A;--tint:#1E2429;\
--link:#7CC6F0;--good:#4FD0A9;--bad:#F5A566}}
*{box-sizing:border-box}
html{scroll-behavior:auto}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.55 system-ui,'DejaVu Sans',Arial,sans-serif}
header,main{max-width:54rem;margin:0 auto;padding:0 1.25rem}
header{padding-top:2rem}
main{padding-bottom:4rem}
.kind{margin:0;color:var(--soft)}
h1{font-size:1.9rem;line-height:1.2;margin:.2rem 0 .6rem;overflow-wrap:anywhere}
h2{font-size:1.35rem;line-height:1.25;margin:2.6rem 0 .8rem;padding-top:.8rem;border-top:2px solid var(--ink)}
p,ul,dl{margin:.6rem 0;max-width:44rem}
.lead{font-size:1.25rem;line-height:1.4;font-weight:600}
.note{color:var(--soft)}
.warning{border:2px solid var(--bad);padding:.6rem .9rem;border-radius:.3rem}
a{color:var(--link)}
a:focus-visible,.scroll:focus-visible{outline:3px solid var(--link);outline-offset:2px}
nav ul{list-style:none;display:flex;flex-wrap:wrap;gap:.2rem 1.1rem;padding:0}
nav a{display:inline-block;min-height:24px;padding:.15rem 0}
.skip{position:absolute;left:-99rem}
.skip:focus{position:static;display:inline-block;padding:.5rem 1rem}
.scroll{overflow-x:auto;margin:1.2rem 0 .4rem;max-width:100%}
table{border-collapse:collapse;width:100%;font-size:.92rem;font-variant-numeric:tabular-nums}
caption{text-align:left;padding:.2rem 0 .5rem;font-size:1rem}
th,td{text-align:left;vertical-align:top;padding:.4rem 1.2rem .4rem 0;border-bottom:1px solid var(--rule)}
th:last-child,td:last-child{padding-right:0}
thead th{border-bottom:2px solid var(--soft);vertical-align:bottom;font-weight:600}
tbody th{font-weight:600}
.n{text-align:right}
td.n,td.p,td.status,th.id{white-space:nowrap}
.status{font-weight:700}
.met{color:var(--good)}.missed{color:var(--bad)}
.wide table{font-size:.85rem}.wide th,.wide td{padding-right:.7rem}.verdict{font-weight:700;min-width:9.5rem}
.wide .n+:not(.n){padding-left:.6rem}.w{white-space:nowrap}.name{min-width:11rem;overflow-wrap:anywhere}
.long{overflow-wrap:anywhere}
code{font-family:ui-monospace,'DejaVu Sans Mono',monospace;font-size:.9em}
figure{margin:1.8rem 0}
figure svg{display:block;min-width:720px;max-width:860px}
figcaption{color:var(--soft);max-width:44rem}
dt{font-weight:600;margin-top:.7rem}
dd{margin:0 0 0 1.2rem}
li{margin:.25rem 0}
@media (max-width:46rem){table{min-width:38rem}.tight table{min-width:0}h1{font-size:1.5rem}.lead{font-size:1.1rem}}
@media (prefers-reduced-motion:reduce){*{scroll-behavior:auto}}";

const PRINT: &str = "\
@media print{:root{color-scheme:light;--paper:#FFFFFF;--ink:#000000;--soft:#444444;--rule:#BBBBBB;--tint:#FFFFFF;\
--link:#000000;--good:#00704F;--bad:#A94700}
body{font-size:10pt;line-height:1.4}
header,main{max-width:none;padding:0}
nav,.skip{display:none}
h1{font-size:17pt}h2{font-size:13pt;margin-top:1.4rem;break-after:avoid}
.lead{font-size:12pt}
.scroll{overflow:visible}
table{min-width:0;font-size:8.5pt}th,td{padding-right:.5rem}
thead{display:table-header-group}
tr,figure,dt,.warning{break-inside:avoid}
caption,dt{break-after:avoid}figcaption{break-before:avoid}tbody tr:first-child{break-before:avoid}
figure svg{min-width:0;max-width:100%;max-height:225mm}
.wide table{font-size:8pt}.wide th,.wide td{padding-right:.4rem}.verdict{min-width:0}.name{min-width:9rem}
.status,.verdict{print-color-adjust:exact}}";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_title_cannot_leave_its_string() {
        let css = sheet("a\"};</style><b>\n\\", "v", "d");
        assert!(!css.contains("</style>") && !css.contains("a\"}"));
        assert!(css_string("\"\\<\n").starts_with("\"\\22 \\5c \\3c \\5c n"));
        assert!(!css_string("a\u{202e}b").contains("\\202e "), "a browser would turn the direction");
    }
}
