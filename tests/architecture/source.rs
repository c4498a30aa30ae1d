//! Source files as text to be judged: comments, the insides of strings, and unit tests taken out.

use std::path::Path;

pub struct File {
    /// Below `src`, as `output/folder.rs`.
    pub name: String,
    /// The top module that it belongs to: `output`.
    pub module: String,
    /// Line for line as in the file, up to its unit tests.
    pub code: String,
}

pub struct Function {
    pub name: String,
    /// From 1.
    pub line: usize,
    pub lines: usize,
}

/// Every file of `src`.
pub fn files() -> Vec<File> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    collect(&root, &root, &mut files);
    assert!(files.len() > 50, "src was not found");
    files
}

fn collect(root: &Path, folder: &Path, files: &mut Vec<File>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(root, &path, files);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let name = path.strip_prefix(root).unwrap().to_str().unwrap().replace('\\', "/");
            let text = std::fs::read_to_string(&path).unwrap();
            files.push(File::new(&name, &text));
        }
    }
}

impl File {
    pub fn new(name: &str, text: &str) -> File {
        let bare = bare(text);
        let code = match bare.find("#[cfg(test)]\nmod ") {
            Some(tests) => bare[..tests].to_owned(),
            None => bare,
        };
        let module = name.split('/').next().unwrap().trim_end_matches(".rs").to_owned();
        File { name: name.to_owned(), module, code }
    }

    fn numbered(&self) -> impl Iterator<Item = (usize, &str)> {
        self.code.lines().enumerate().map(|(k, line)| (k + 1, line))
    }

    /// Line and top module of each path into the crate: `crate::scenario::…`, `bankwright::cli`,
    /// and of each name in `crate::{a, b::c}`.
    pub fn crate_paths(&self) -> Vec<(usize, String)> {
        let mut paths = Vec::new();
        for root in ["crate", "bankwright"] {
            for at in words(&self.code, root) {
                let line = self.code[..at].matches('\n').count() + 1;
                let Some(path) = self.code[at + root.len()..].strip_prefix("::") else { continue };
                paths.extend(heads(path).into_iter().map(|head| (line, head)));
            }
        }
        // `super` in a file directly below `src` is the root too.
        if !self.name.contains('/') {
            for at in words(&self.code, "super") {
                let line = self.code[..at].matches('\n').count() + 1;
                paths.extend(self.code[at..].strip_prefix("super::").into_iter().flat_map(heads).map(|h| (line, h)));
            }
        }
        paths
    }

    /// The folder of its child modules: `study/point` of `study/point.rs` and of `study/point/mod.rs`, nothing of `lib.rs`
    /// and `main.rs`.
    fn path(&self) -> &str {
        let whole = self.name.trim_end_matches(".rs").trim_end_matches("/mod");
        if whole == "lib" || whole == "main" { "" } else { whole }
    }

    /// Names of the files of `src` whose names it uses, itself apart. A name is of the file that its path leads to, also
    /// where that file has it from another.
    pub fn uses(&self, all: &[File]) -> Vec<String> {
        let here: Vec<&str> = self.path().split_terminator('/').collect();
        let children: Vec<&str> = self.code.lines().filter_map(declared).collect();
        let mut uses: Vec<String> = Vec::new();
        for (at, head) in heads_of_paths(&self.code) {
            let rest = &self.code[at + head.len() + 2..];
            let base: Vec<&str> = match head {
                "crate" | "bankwright" => Vec::new(),
                "self" => here.clone(),
                "super" => here[..here.len().saturating_sub(1)].to_vec(),
                child if children.contains(&child) => [&here[..], &[child]].concat(),
                _ => continue,
            };
            for path in expanded(rest) {
                let mut module: Vec<String> = base.iter().map(|name| (*name).to_owned()).collect();
                let supers = path.iter().take_while(|name| *name == "super").count();
                module.truncate(module.len().saturating_sub(supers));
                module.extend(path.into_iter().skip(supers));
                let paths = (1..=module.len()).rev().map(|length| module[..length].join("/"));
                let mut files = paths.filter_map(|path| all.iter().find(|f| f.path() == path));
                uses.extend(files.next().map(|f| f.name.clone()));
            }
        }
        uses.sort();
        uses.dedup();
        uses.retain(|name| *name != self.name);
        uses
    }

    /// Each line that holds one of the words, with that word.
    pub fn lines_with<'w>(&self, wanted: &[&'w str]) -> Vec<(usize, &'w str)> {
        let hits = |(line, text): (usize, &str)| {
            let found = wanted.iter().filter(|w| !words(text, w).is_empty());
            found.map(|w| (line, *w)).collect::<Vec<_>>()
        };
        self.numbered().flat_map(hits).collect()
    }

    /// Each use of a number's own function of one of these names, called (`x.exp()`) or named (`f64::exp`), with its line.
    pub fn float_calls<'w>(&self, names: &[&'w str]) -> Vec<(usize, &'w str)> {
        let mut calls = Vec::new();
        for name in names {
            for at in words(&self.code, name) {
                let (before, after) = (self.code[..at].trim_end(), self.code[at + name.len()..].trim_start());
                let method = before.ends_with('.') && (after.starts_with('(') || after.starts_with("::"));
                let path =
                    ["f64::", "f32::", "f64>::", "f32>::", "Float::"].iter().any(|owner| before.ends_with(owner));
                if method || path {
                    calls.push((before.matches('\n').count() + 1, *name));
                }
            }
        }
        calls
    }

    /// Functions with a body, by the indentation that rustfmt gives their closing brace.
    pub fn functions(&self) -> Vec<Function> {
        let lines: Vec<&str> = self.code.lines().collect();
        let mut functions = Vec::new();
        for (k, line) in lines.iter().enumerate() {
            let Some(name) = function_name(line) else { continue };
            let indent = &line[..line.len() - line.trim_start().len()];
            let close = format!("{indent}}}");
            let end = match line.trim_end().ends_with(['}', ';']) {
                true => Some(0),
                false => lines[k..].iter().position(|l| *l == close),
            };
            let lines = end.unwrap_or_else(|| panic!("{}: fn {name} does not end", self.name)) + 1;
            functions.push(Function { name, line: k + 1, lines });
        }
        functions
    }
}

fn function_name(line: &str) -> Option<String> {
    let mut rest = line.trim_start();
    for word in ["pub(crate) ", "pub(super) ", "pub ", "const "] {
        rest = rest.strip_prefix(word).unwrap_or(rest);
    }
    let name = rest.strip_prefix("fn ")?;
    Some(name.chars().take_while(|c| is_word(*c)).collect())
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// Where `word` stands, not as part of a longer name.
fn words(text: &str, word: &str) -> Vec<usize> {
    let last_counts = word.ends_with(is_word);
    let whole = |at: &usize| {
        let before = text[..*at].chars().next_back().is_some_and(is_word);
        let after = text[at + word.len()..].chars().next().is_some_and(is_word);
        !(before || last_counts && after)
    };
    text.match_indices(word).map(|(at, _)| at).filter(whole).collect()
}

/// The module that a line declares: `mod page;`.
fn declared(line: &str) -> Option<&str> {
    let line =
        line.trim().trim_start_matches("pub ").trim_start_matches("pub(super) ").trim_start_matches("pub(crate) ");
    line.strip_prefix("mod ")?.strip_suffix(';')
}

/// The first name of each path, and where it stands.
fn heads_of_paths(code: &str) -> Vec<(usize, &str)> {
    let mut heads = Vec::new();
    for (at, _) in code.match_indices("::") {
        let start =
            code[..at].rfind(|c| !is_word(c)).map_or(0, |k| k + code[k..].chars().next().map_or(1, char::len_utf8));
        let first = start < at && !code[..start].ends_with("::");
        heads.extend(first.then(|| (start, &code[start..at])));
    }
    heads
}

/// All paths that a text begins with: `a::b`, and of `a::{b, c::{d, e}}` each.
fn expanded(text: &str) -> Vec<Vec<String>> {
    let text = text.trim_start();
    if let Some(group) = text.strip_prefix('{') {
        return members(group).into_iter().flat_map(expanded).collect();
    }
    let name: String = text.chars().take_while(|c| is_word(*c)).collect();
    let rest = &text[name.len()..];
    let after = rest.strip_prefix("::").filter(|_| !name.is_empty());
    let mut paths = after.map_or_else(|| vec![Vec::new()], expanded);
    paths.iter_mut().for_each(|path| path.insert(0, name.clone()));
    paths
}

/// The members of a group, up to the brace that closes it.
fn members(group: &str) -> Vec<&str> {
    let (mut depth, mut start, mut members) = (0, 0, Vec::new());
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => {
                members.push(&group[start..at]);
                break;
            }
            '}' => depth -= 1,
            ',' if depth == 0 => {
                members.push(&group[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    members
}

/// First names of what follows `crate::`: one, or those of a group in braces.
fn heads(path: &str) -> Vec<String> {
    let firsts = expanded(path).into_iter().filter_map(|path| path.into_iter().next());
    let mut heads: Vec<String> = firsts.filter(|head| !head.is_empty()).collect();
    heads.dedup();
    heads
}

/// The text with comments and the insides of strings and characters blanked; lines stay.
fn bare(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while !rest.is_empty() {
        let (kept, blanked) = token(rest);
        out.push_str(&rest[..kept]);
        out.extend(rest[kept..kept + blanked].chars().filter(|c| *c == '\n'));
        rest = &rest[kept + blanked..];
    }
    out
}

/// Bytes to keep at the start of `rest`, then bytes to blank.
fn token(rest: &str) -> (usize, usize) {
    if rest.starts_with("//") {
        return (0, rest.find('\n').unwrap_or(rest.len()));
    }
    if rest.starts_with("/*") {
        return (0, rest.find("*/").map_or(rest.len(), |at| at + 2));
    }
    for (open, close) in [("r##\"", "\"##"), ("r#\"", "\"#"), ("r\"", "\"")] {
        if let Some(inside) = rest.strip_prefix(open) {
            let length = inside.find(close).unwrap_or(inside.len());
            return (open.len(), (length + close.len()).min(rest.len() - open.len()));
        }
    }
    if let Some(inside) = rest.strip_prefix('"') {
        return (1, (closing(inside, '"') + 1).min(inside.len()));
    }
    // 'x' and '\n' are characters, 'a without a second quote is a lifetime.
    if let Some(inside) = rest.strip_prefix('\'') {
        let length = closing(inside, '\'');
        let one = inside.starts_with('\\') || inside[..length].chars().count() == 1;
        if one && length < inside.len() {
            return (1, length + 1);
        }
    }
    (rest.chars().next().map_or(0, char::len_utf8), 0)
}

/// Bytes before the quote that closes, escapes passed over.
fn closing(inside: &str, quote: char) -> usize {
    let mut escaped = false;
    for (at, c) in inside.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            c if c == quote => return at,
            _ => {}
        }
    }
    inside.len()
}

#[test]
fn the_reader_sees_code_and_nothing_else() {
    let text = "// use crate::cli;\nuse crate::{time::Time, units};\nlet c = '\"'; let s = \"crate::cli unsafe\";\n\
                fn long<'a>(x: &'a str) -> char {\n    crate::curve::f(x)\n}\n#[cfg(test)]\nmod tests { use crate::cli; }\n";
    let file = File::new("network/plan.rs", text);
    let paths: Vec<(usize, String)> = file.crate_paths();
    let expected = [(2, "time"), (2, "units"), (5, "curve")].map(|(line, to)| (line, to.to_owned()));
    assert_eq!(paths, expected);
    assert_eq!(file.module, "network");
    let all = ["time.rs", "units.rs", "units/text.rs", "curve.rs", "network/mod.rs", "network/bank.rs"];
    let all = all.map(|name| File::new(name, ""));
    assert_eq!(file.uses(&all), ["curve.rs", "time.rs", "units.rs"]);
    let text = "mod bank;\nuse crate::{units::{text::{a, b}, C}, time};\npub use bank::Bank;\nfn f() { super::curve::f(); self::g(); }\n";
    let uses = File::new("network/mod.rs", text).uses(&all);
    assert_eq!(uses, ["curve.rs", "network/bank.rs", "time.rs", "units.rs", "units/text.rs"]);
    assert!(file.lines_with(&["unsafe"]).is_empty());
    assert_eq!(file.lines_with(&["long"]), [(4, "long")]);
    let text = "let a = x.exp() + math::exp(x) + y\n    .ln() * exp(z) + self.exp;\nv.map(f64::sin); // x.cos()\n";
    let calls = File::new("network/plan.rs", text).float_calls(&["exp", "ln", "sin", "cos"]);
    assert_eq!(calls, [(1, "exp"), (2, "ln"), (3, "sin")]);
    let functions = file.functions();
    assert_eq!(functions.len(), 1);
    assert_eq!((functions[0].name.as_str(), functions[0].line, functions[0].lines), ("long", 4, 3));
}
