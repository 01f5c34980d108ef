//! Equations of the glossary as MathML (W3C MathML Core): plain words in, presentation markup out.
//!
//! ```text
//! equations := relation (",   " relation)*
//! relation  := sum ((= | > | >= | +=) sum)*
//! sum       := [-] product ((+ | -) product)*
//! product   := factor (factor | / factor)*          words beside each other are one name
//! factor    := (name | number | (relation, ...)) [^ factor] [']
//! ```

use arcwright_paper::svg::escape;

/// What a text is made of.
#[derive(Clone, Debug, PartialEq)]
enum Token {
    /// One letter, or a Greek one by its name; with what stands below it.
    Symbol(String),
    /// Words of a language.
    Words(String),
    Number(String),
    Sign(char),
    AtLeast,
    Grows,
}

/// Letters that are written out.
const GREEK: [(&str, &str); 3] = [("rho", "ρ"), ("mu", "μ"), ("omega", "ω")];
/// Functions with their argument in brackets.
const FUNCTIONS: [&str; 1] = ["max"];

/// An equation and what its letters mean, as the glossary writes them: behind six spaces stands the legend.
pub fn parts(text: &str) -> (&str, &str) {
    match text.split_once("      ") {
        Some((equation, legend)) => (equation.trim(), legend.trim()),
        None => (text.trim(), ""),
    }
}

/// A legend with Greek letters where their names are explained.
pub fn greek(legend: &str) -> String {
    GREEK.iter().fold(legend.to_string(), |text, (name, letter)| {
        text.replace(&format!("{name}:"), &format!("{letter}:"))
    })
}

/// The equations of a text, one `math` element each.
pub fn mathml(text: &str) -> Vec<String> {
    let (equations, _) = parts(text);
    equations
        .split(",   ")
        .map(|one| {
            let mut reader = Reader {
                tokens: tokens(one),
                at: 0,
            };
            let mut body = reader.relation();
            // What the grammar does not know is shown as it is written.
            while let Some(token) = reader.next() {
                body.push_str(&shown(&token));
                body.push_str(&reader.relation());
            }
            format!("<math display=\"block\"><mrow>{body}</mrow></math>")
        })
        .collect()
}

fn tokens(text: &str) -> Vec<Token> {
    let letters: Vec<char> = text.chars().collect();
    let mut out: Vec<Token> = Vec::new();
    let mut at = 0;
    let run = |from: usize, fits: &dyn Fn(char) -> bool| -> usize {
        letters.iter().skip(from).take_while(|c| fits(**c)).count()
    };
    while let Some(&c) = letters.get(at) {
        let next = letters.get(at + 1).copied();
        if c.is_whitespace() {
            at += 1;
        } else if c.is_ascii_digit() {
            let long = run(at, &|c| c.is_ascii_digit() || c == '.');
            out.push(Token::Number(letters[at..at + long].iter().collect()));
            at += long;
        } else if c.is_alphabetic() {
            let long = run(at, &|c| c.is_alphanumeric() || c == '_');
            let word: String = letters[at..at + long].iter().collect();
            at += long;
            out.push(name(&word));
        } else if next == Some('=') && (c == '>' || c == '+') {
            out.push(if c == '>' { Token::AtLeast } else { Token::Grows });
            at += 2;
        } else {
            out.push(Token::Sign(c));
            at += 1;
        }
    }
    joined(out)
}

fn name(word: &str) -> Token {
    let plain = |w: &str| {
        GREEK
            .iter()
            .find(|g| g.0 == w)
            .map_or(w.to_string(), |g| g.1.to_string())
    };
    let short = |w: &str| w.chars().count() <= 2 || GREEK.iter().any(|g| g.0 == w);
    match word.split_once('_') {
        Some((base, below)) => Token::Symbol(format!(
            "<msub><mi>{}</mi><mtext>{}</mtext></msub>",
            escape(&plain(base)),
            escape(below)
        )),
        // A letter with a number or a sign of its own, such as I0 or Re; "kp" and "of" are words.
        None if short(word)
            && (word.chars().count() == 1 || word.starts_with(char::is_uppercase) || plain(word) != word) =>
        {
            let mut letters = word.chars();
            match (letters.next(), letters.as_str()) {
                (Some(first), rest) if !rest.is_empty() && rest.chars().all(|c| c.is_ascii_digit()) => {
                    Token::Symbol(format!("<msub><mi>{first}</mi><mn>{rest}</mn></msub>"))
                }
                _ => Token::Symbol(format!("<mi>{}</mi>", escape(&plain(word)))),
            }
        }
        None if plain(word) != word => Token::Symbol(format!("<mi>{}</mi>", plain(word))),
        None => Token::Words(word.to_string()),
    }
}

/// Words beside each other as one.
fn joined(tokens: Vec<Token>) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    for token in tokens {
        match (out.last_mut(), token) {
            (Some(Token::Words(before)), Token::Words(more)) => {
                before.push(' ');
                before.push_str(&more);
            }
            (_, token) => out.push(token),
        }
    }
    out
}

fn shown(token: &Token) -> String {
    match token {
        Token::Symbol(markup) => markup.clone(),
        Token::Words(words) => format!("<mtext>{}</mtext>", escape(words)),
        Token::Number(n) => format!("<mn>{n}</mn>"),
        Token::Sign('-') => "<mo>−</mo>".into(),
        Token::Sign('\'') => "<mo>′</mo>".into(),
        Token::Sign(',') => "<mo separator=\"true\">,</mo>".into(),
        Token::Sign(c) => format!("<mo>{}</mo>", escape(&c.to_string())),
        Token::AtLeast => "<mo>≥</mo>".into(),
        Token::Grows => "<mo lspace=\"0.28em\" rspace=\"0.28em\">+=</mo>".into(),
    }
}

struct Reader {
    tokens: Vec<Token>,
    at: usize,
}

impl Reader {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.at)
    }

    fn next(&mut self) -> Option<Token> {
        let token = self.peek().cloned();
        self.at += usize::from(token.is_some());
        token
    }

    fn takes(&mut self, c: char) -> bool {
        let is_next = self.peek() == Some(&Token::Sign(c));
        self.at += usize::from(is_next);
        is_next
    }

    fn relation(&mut self) -> String {
        let mut text = self.sum();
        while let Some(token) = self.peek() {
            if !matches!(
                token,
                Token::AtLeast | Token::Grows | Token::Sign('=' | '>' | ',')
            ) {
                break;
            }
            text.push_str(&shown(token));
            self.at += 1;
            text.push_str(&self.sum());
        }
        text
    }

    fn sum(&mut self) -> String {
        let mut text = String::new();
        if self.takes('-') {
            text.push_str("<mo>−</mo>");
        }
        text.push_str(&self.product());
        while let Some(Token::Sign(c @ ('+' | '-'))) = self.peek().cloned() {
            self.at += 1;
            text.push_str(&shown(&Token::Sign(c)));
            text.push_str(&self.product());
        }
        text
    }

    fn product(&mut self) -> String {
        let mut text = String::new();
        loop {
            if self.takes('/') {
                let below = self.factor(true);
                text = format!("<mfrac><mrow>{text}</mrow><mrow>{below}</mrow></mfrac>");
                continue;
            }
            let starts = match self.peek() {
                Some(Token::Symbol(_) | Token::Words(_) | Token::Number(_)) => true,
                Some(token) => *token == Token::Sign('('),
                None => false,
            };
            if !starts {
                return text;
            }
            if !text.is_empty() {
                text.push_str("<mspace width=\"0.17em\"/>");
            }
            text.push_str(&self.factor(false));
        }
    }

    /// `bare`: brackets about the whole are not shown, because a line below says the same.
    fn factor(&mut self, bare: bool) -> String {
        let Some(token) = self.next() else {
            return String::new();
        };
        let mut text = match &token {
            Token::Sign('(') => {
                let inner = self.relation();
                self.takes(')');
                if bare {
                    inner
                } else {
                    format!("<mrow><mo>(</mo>{inner}<mo>)</mo></mrow>")
                }
            }
            Token::Words(word) if word == "sqrt" && self.takes('(') => {
                let inner = self.relation();
                self.takes(')');
                format!("<msqrt><mrow>{inner}</mrow></msqrt>")
            }
            Token::Words(word) if word == "sum" && self.peek() == Some(&Token::Sign('(')) => {
                "<mo>∑</mo>".into()
            }
            Token::Words(word) if FUNCTIONS.contains(&word.as_str()) => format!("<mi>{word}</mi>"),
            _ => shown(&token),
        };
        if self.takes('\'') {
            text = format!("<mrow>{text}<mo lspace=\"0\" rspace=\"0\">′</mo></mrow>");
        }
        if self.takes('^') {
            let above = self.factor(true);
            text = format!("<msup><mrow>{text}</mrow><mrow>{above}</mrow></msup>");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tasks::explain::WORDS;

    fn words(markup: &str) -> String {
        let mut out = String::new();
        let mut inside = false;
        for c in markup.chars() {
            match c {
                '<' => inside = true,
                '>' => inside = false,
                c if !inside => out.push(c),
                _ => {}
            }
        }
        out
    }

    /// Every letter, number and sign of the glossary's equations comes out again, in elements that close.
    #[test]
    fn every_equation_of_the_glossary_becomes_markup_and_loses_nothing() {
        for w in WORDS.iter().filter(|w| !w.equation.is_empty()) {
            for (one, written) in mathml(w.equation).iter().zip(parts(w.equation).0.split(",   ")) {
                roxmltree::Document::parse(one).unwrap_or_else(|e| panic!("{}: {e}: {one}", w.name));
                let found: String = words(one).replace('∑', "sum").replace("&gt;", ">");
                let letters = |t: &str| -> Vec<char> {
                    let t = GREEK.iter().fold(t.to_string(), |t, g| t.replace(g.1, g.0));
                    t.chars().filter(|c| c.is_alphanumeric()).collect()
                };
                let wanted: String = letters(written).into_iter().collect();
                let got: String = letters(&found).into_iter().collect();
                assert_eq!(got, wanted.replace("sqrt", ""), "{}: {one}", w.name);
            }
        }
    }

    #[test]
    fn a_quotient_binds_what_stands_before_it_and_one_factor_behind() {
        let one = &mathml("a = b c / (2 d) e")[0];
        assert!(
            one.contains(
                "<mfrac><mrow><mi>b</mi><mspace width=\"0.17em\"/><mi>c</mi></mrow><mrow><mn>2</mn>"
            ),
            "{one}"
        );
        assert!(
            one.ends_with("</mfrac><mspace width=\"0.17em\"/><mi>e</mi></mrow></math>"),
            "{one}"
        );
        assert!(mathml("x = sqrt(y / 2)")[0].contains("<msqrt><mrow><mfrac>"));
        assert!(
            mathml("F = k d^n")[0].contains("<msup><mrow><mi>d</mi></mrow><mrow><mi>n</mi></mrow></msup>")
        );
    }
}
