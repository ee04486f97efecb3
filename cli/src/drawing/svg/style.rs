//! Colours and lines. They are written out in each rule: not every viewer knows variables. Each rule holds inside a wiring picture only.

use crate::picture::{DARK, LIGHT, Palette, Theme};

/// Colours of joints, and stripes: together they repeat after 36 joints.
pub(super) const COLOURS: usize = 6;
pub(super) const STRIPES: usize = 6;
/// Stripes along a wire; the first has none.
const DASHES: [&str; STRIPES] = ["", "7 7", "2 4", "14 4", "9 3 2 3", "3 10"];
/// Bodies of parts and wires at ground, on light and on dark paper; the wires at least 4.5 : 1 against it.
const GREYS: [[&str; 2]; 2] = [["#f1eee6", "#686d74"], ["#20252c", "#969ca5"]];

const LINES: &str = "\
    text{font-family:system-ui,'Noto Sans','DejaVu Sans',sans-serif}\n\
    .head{font-size:16px;font-weight:600}.name{font-size:12.5px;font-weight:600}.small{font-size:11px;font-weight:400}\n\
    .tiny{font-size:10px}.number{font-size:9px;font-weight:700;text-anchor:middle}\n\
    .gap,.core,.stripe,.contact path,.poles path,.detail,.made{fill:none;stroke-linejoin:round}\n\
    .gap{stroke-width:7.4}.core{stroke-width:3.2}.stripe{stroke-width:1.3}.ground .core{stroke-width:1.4}\n\
    .ground .gap{stroke-width:4.6}.body{stroke-width:1.2}.detail{stroke-width:1}.pin{stroke-width:1.2}\n\
    .poles path{stroke-width:1;stroke-dasharray:2 2.5}.contact path{stroke-width:3;stroke-linecap:round}\n\
    .made{stroke-width:1.6}.contact{display:none}.contact.closed{display:inline}.faded{opacity:.22}\n\
    .lug.faded{opacity:.45}.part.faded{opacity:.55}.straight .core{stroke-dasharray:6 4}\n";

/// The rules of all pictures: for their `style` element, or for the style sheet of a document that holds them.
pub(crate) fn style(theme: Theme) -> String {
    let colours = match theme {
        Theme::Auto => {
            let dark = colours(&DARK, GREYS[1]);
            format!("{}@media(prefers-color-scheme:dark){{\n{dark}}}\n", colours(&LIGHT, GREYS[0]))
        }
        Theme::Light => colours(&LIGHT, GREYS[0]),
        Theme::Dark => colours(&DARK, GREYS[1]),
    };
    let mut lines = LINES.to_owned();
    for (i, dash) in DASHES.iter().enumerate() {
        lines.push_str(&match *dash {
            "" => format!(".s{i} .stripe{{display:none}}"),
            dash => format!(".s{i} .stripe{{stroke-dasharray:{dash}}}"),
        });
    }
    lines.push('\n');
    inside(&lines) + &inside(&colours)
}

fn colours(palette: &Palette, [body, ground]: [&str; 2]) -> String {
    let [paper, ink, faint, joints @ ..] = palette;
    let mut out = format!(
        "text{{fill:{ink}}}.paper{{fill:{paper}}}.gap,.stripe{{stroke:{paper}}}.body{{fill:{body};stroke:{ink}}}.ground .core{{stroke:{ground}}}\n\
         .metal{{fill:{paper};stroke:{ink}}}.detail,.poles path{{stroke:{ink}}}.made,.contact path{{stroke:{ink}}}\n\
         .pin{{fill:{paper};stroke:{ink}}}.idle .pin{{stroke:{faint}}}.dot{{fill:{ink}}}.hole{{fill:{body};stroke:{ink}}}\n"
    );
    for (i, colour) in joints.iter().enumerate() {
        out.push_str(&format!(
            ".c{i} .core{{stroke:{colour}}}.c{i} .pin{{fill:{colour};stroke:{colour}}}.c{i} .number{{fill:{paper}}}"
        ));
    }
    out.push('\n');
    out
}

/// Every selector of the rules under `.wiring`. No rule here holds a brace or a comma elsewhere than between rules and selectors.
fn inside(rules: &str) -> String {
    let mut out = String::new();
    for line in rules.lines() {
        if line.starts_with('@') || line.len() < 2 {
            out.push_str(line);
            out.push('\n');
            continue;
        }
        for rule in line.split_inclusive('}') {
            match rule.split_once('{') {
                Some((selectors, body)) => {
                    let scoped: Vec<String> = selectors.split(',').map(|s| format!(".wiring {s}")).collect();
                    out.push_str(&format!("{}{{{body}", scoped.join(",")));
                }
                None => out.push_str(rule),
            }
        }
        out.push('\n');
    }
    out
}
