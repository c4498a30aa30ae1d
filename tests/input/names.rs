//! Names and titles: what may stand in them.

use super::{SMALL, and, faults, good, with};

const HIDDEN: [&str; 8] = [r"\u001B[2J", r"\u202E", r"\u2066", r"\u061C", r"\u200B", r"\uFFFF", r"\n", r"\uFEFF"];

/// Each place of a name, with `NAME` where it stands.
fn places() -> Vec<(&'static str, String)> {
    let surge =
        "[load]\npower = \"1 kW\"\n[[surge]]\nname = \"NAME\"\npower = \"1 kW\"\nlasts = \"2 s\"\nevery = \"1 h\"\n";
    let layout = "[[layout]]\nname = \"NAME\"\n[layout.cable.link]\nrating = \"150 A\"\n";
    vec![
        ("title", with(SMALL, "title = \"two modules\"", "title = \"NAME\"")),
        ("module", SMALL.replace("[module.cellar]", "[module.\"NAME\"]").replace("\"cellar\"", "\"NAME\"")),
        ("cable", SMALL.replace("[cable.link]", "[cable.\"NAME\"]").replace("\"link\"", "\"NAME\"")),
        ("surge", and(SMALL, surge)),
        ("layout", and(SMALL, layout)),
        ("currency", and(SMALL, "[prices]\ncurrency = \"NAME\"\n")),
    ]
}

#[test]
fn a_name_with_something_invisible_is_refused_where_it_stands() {
    for (place, text) in places() {
        for hidden in HIDDEN {
            let text = text.replace("NAME", &format!("a{hidden}b"));
            let line = 1 + text.lines().position(|l| l.contains(hidden)).unwrap();
            let found = faults(&text);
            let told = found.iter().find(|d| d.message.contains("invisible character, U+"));
            let told = told.unwrap_or_else(|| panic!("{place} with {hidden}: {found:?}"));
            assert_eq!(told.place().0, line, "{place} with {hidden}");
        }
    }
    let stack = with(SMALL, "name = \"A\"", r#"name = "A\u202E""#);
    assert!(faults(&stack).iter().any(|d| d.message.contains(r"A\u{202e}") || d.message.contains("invisible")));
}

#[test]
fn a_name_in_any_script_is_legal() {
    for name in ["Akkuhütte", "電池 小屋", "باتری می‌خواهم", "бак №1", "=1+1", "-5 & <b>", "🔋", "O'Brien"]
    {
        for (place, text) in places().into_iter().filter(|(place, _)| *place != "currency") {
            let checked = good(&text.replace("NAME", name));
            assert!(!checked.scenario.title.is_empty(), "{place}");
        }
    }
}
