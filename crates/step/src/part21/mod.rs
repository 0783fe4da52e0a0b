//! The exchange structure of ISO 10303-21: header, data sections, instances and their parameters.
//!
//! Read: sections HEADER and DATA, several DATA sections, complex instances, typed parameters,
//! enumerations, binaries, `$`, `*`, comments, and the string escapes of clause 6.4.3. Sections
//! ANCHOR, REFERENCE and SIGNATURE (edition 3) are passed over: nothing outside the file is read.

mod lex;
mod text;

use lex::{Lexer, Token};
use std::borrow::Cow;
use std::collections::HashMap;

/// Where the text departs from ISO 10303-21.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SyntaxError {
    /// Something else belongs there.
    #[error("line {line}, column {column}: {expected} expected, found {found}")]
    Unexpected {
        /// Line, from 1.
        line: usize,
        /// Byte within the line, from 1.
        column: usize,
        /// What belongs there.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
    /// A string, binary or comment that is never closed.
    #[error("line {line}, column {column}: {what} begins here and is never closed")]
    Unclosed {
        /// Line, from 1.
        line: usize,
        /// Byte within the line, from 1.
        column: usize,
        /// A string, a binary or a comment.
        what: &'static str,
    },
    /// A number that cannot be held.
    #[error("line {line}, column {column}: {found} is no number that can be held")]
    Number {
        /// Line, from 1.
        line: usize,
        /// Byte within the line, from 1.
        column: usize,
        /// What stands there.
        found: String,
    },
    /// Lists within lists without end.
    #[error("line {line}, column {column}: lists are nested more than {MOST_NESTED} deep")]
    TooDeep {
        /// Line, from 1.
        line: usize,
        /// Byte within the line, from 1.
        column: usize,
    },
    /// Two instances under one name.
    #[error("line {line}: instance #{id} is given again, first on line {first}")]
    Twice {
        /// The instance.
        id: u64,
        /// Line of the second, from 1.
        line: usize,
        /// Line of the first, from 1.
        first: usize,
    },
}

/// More than any schema nests, and few enough to walk recursively.
pub(crate) const MOST_NESTED: usize = 64;

/// A parameter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value<'a> {
    /// `$`
    Omitted,
    /// `*`
    Derived,
    /// An integer or a real: finite.
    Number(f64),
    /// A string, as it stands between its apostrophes.
    Text(&'a [u8]),
    /// `.NAME.`
    Enumeration(Cow<'a, str>),
    /// A binary; nothing here looks into one.
    Binary,
    /// `#12`
    Reference(u64),
    /// `(..)`
    List(Vec<Value<'a>>),
    /// `NAME(..)`: the name and what it holds.
    Typed(Cow<'a, str>, Vec<Value<'a>>),
}

/// One record of an instance: its type and its own parameters. A simple instance has one.
#[derive(Debug, Clone)]
pub(crate) struct Record<'a> {
    pub(crate) kind: Cow<'a, str>,
    pub(crate) parameters: Vec<Value<'a>>,
}

/// An instance of a data section.
#[derive(Debug, Clone)]
pub(crate) struct Instance<'a> {
    pub(crate) id: u64,
    /// From 1.
    pub(crate) line: usize,
    /// More than one in a complex instance, in the order written.
    pub(crate) records: Vec<Record<'a>>,
}

/// A parsed file.
#[derive(Debug, Default)]
pub(crate) struct Exchange<'a> {
    /// The names in `FILE_SCHEMA`.
    pub(crate) schemas: Vec<String>,
    /// In the order of the file.
    pub(crate) instances: Vec<Instance<'a>>,
    by_id: HashMap<u64, usize>,
}

impl<'a> Exchange<'a> {
    pub(crate) fn get(&self, id: u64) -> Option<&Instance<'a>> {
        self.by_id.get(&id).and_then(|i| self.instances.get(*i))
    }
}

/// The text of a string parameter, its escapes resolved.
pub(crate) use text::decoded;

/// Parses a whole file.
pub(crate) fn parse(bytes: &[u8]) -> Result<Exchange<'_>, SyntaxError> {
    let mut parser = Parser { lexer: Lexer::new(bytes), ahead: None };
    parser.file()
}

struct Parser<'a> {
    lexer: Lexer<'a>,
    /// A token looked at and not yet taken, with where it begins.
    ahead: Option<(Token<'a>, usize)>,
}

impl<'a> Parser<'a> {
    fn next(&mut self) -> Result<(Token<'a>, usize), SyntaxError> {
        match self.ahead.take() {
            Some(token) => Ok(token),
            None => self.lexer.next(),
        }
    }

    fn peek(&mut self) -> Result<&Token<'a>, SyntaxError> {
        let token = self.next()?;
        Ok(&self.ahead.insert(token).0)
    }

    fn wrong(&self, expected: &'static str, (token, at): &(Token<'a>, usize)) -> SyntaxError {
        let (line, column) = self.lexer.place(*at);
        SyntaxError::Unexpected { line, column, expected, found: token.told() }
    }

    fn expect(&mut self, wanted: &Token<'a>, expected: &'static str) -> Result<(), SyntaxError> {
        let token = self.next()?;
        if token.0 == *wanted { Ok(()) } else { Err(self.wrong(expected, &token)) }
    }

    fn keyword(&mut self, expected: &'static str) -> Result<Cow<'a, str>, SyntaxError> {
        match self.next()? {
            (Token::Keyword(name), _) => Ok(name),
            other => Err(self.wrong(expected, &other)),
        }
    }

    fn file(&mut self) -> Result<Exchange<'a>, SyntaxError> {
        let mut exchange = Exchange::default();
        let first = self.next()?;
        if !matches!(&first.0, Token::Keyword(k) if k == "ISO-10303-21") {
            return Err(self.wrong("ISO-10303-21;", &first));
        }
        self.expect(&Token::Semicolon, "\";\"")?;
        let mut data = 0;
        loop {
            let token = self.next()?;
            match &token.0 {
                Token::Keyword(k) if k == "HEADER" => {
                    self.expect(&Token::Semicolon, "\";\"")?;
                    self.header(&mut exchange)?;
                }
                Token::Keyword(k) if k == "DATA" => {
                    data += 1;
                    if *self.peek()? == Token::Open {
                        self.next()?;
                        self.parameters(1)?;
                    }
                    self.expect(&Token::Semicolon, "\";\"")?;
                    self.data(&mut exchange)?;
                }
                Token::Keyword(k) if k == "ANCHOR" || k == "REFERENCE" || k == "SIGNATURE" => {
                    self.lexer.pass_section();
                }
                Token::Keyword(k) if k == "END-ISO-10303-21" && data > 0 => break,
                _ if data == 0 => return Err(self.wrong("HEADER; or DATA;", &token)),
                _ => return Err(self.wrong("DATA; or END-ISO-10303-21;", &token)),
            }
        }
        self.expect(&Token::Semicolon, "\";\"")?;
        Ok(exchange)
    }

    fn header(&mut self, exchange: &mut Exchange<'a>) -> Result<(), SyntaxError> {
        loop {
            let name = self.keyword("a header entity or ENDSEC;")?;
            if name == "ENDSEC" {
                return self.expect(&Token::Semicolon, "\";\"");
            }
            self.expect(&Token::Open, "\"(\"")?;
            let parameters = self.parameters(1)?;
            self.expect(&Token::Semicolon, "\";\"")?;
            if name == "FILE_SCHEMA"
                && let Some(Value::List(names)) = parameters.first()
            {
                let text = |v: &Value| match v {
                    Value::Text(t) => Some(decoded(t)),
                    _ => None,
                };
                exchange.schemas = names.iter().filter_map(text).collect();
            }
        }
    }

    fn data(&mut self, exchange: &mut Exchange<'a>) -> Result<(), SyntaxError> {
        loop {
            let token = self.next()?;
            let id = match &token.0 {
                Token::Reference(id) => *id,
                Token::Keyword(k) if k == "ENDSEC" => {
                    return self.expect(&Token::Semicolon, "\";\"");
                }
                _ => return Err(self.wrong("an instance or ENDSEC;", &token)),
            };
            let line = self.lexer.place(token.1).0;
            self.expect(&Token::Equals, "\"=\"")?;
            let records = self.records()?;
            self.expect(&Token::Semicolon, "\";\"")?;
            let earlier = exchange.by_id.insert(id, exchange.instances.len());
            if let Some(first) = earlier.and_then(|i| exchange.instances.get(i)) {
                return Err(SyntaxError::Twice { id, line, first: first.line });
            }
            exchange.instances.push(Instance { id, line, records });
        }
    }

    fn records(&mut self) -> Result<Vec<Record<'a>>, SyntaxError> {
        if *self.peek()? != Token::Open {
            return Ok(vec![self.record("an entity type or \"(\"")?]);
        }
        self.next()?;
        let mut records = Vec::new();
        while *self.peek()? != Token::Close {
            records.push(self.record("an entity type or \")\"")?);
        }
        self.next()?;
        Ok(records)
    }

    fn record(&mut self, expected: &'static str) -> Result<Record<'a>, SyntaxError> {
        let kind = self.keyword(expected)?;
        self.expect(&Token::Open, "\"(\"")?;
        Ok(Record { kind, parameters: self.parameters(1)? })
    }

    /// What stands between an open parenthesis, taken already, and its closing one.
    fn parameters(&mut self, depth: usize) -> Result<Vec<Value<'a>>, SyntaxError> {
        let mut values = Vec::new();
        if *self.peek()? == Token::Close {
            self.next()?;
            return Ok(values);
        }
        loop {
            values.push(self.value(depth)?);
            let token = self.next()?;
            match token.0 {
                Token::Comma => {}
                Token::Close => return Ok(values),
                _ => return Err(self.wrong("\",\" or \")\"", &token)),
            }
        }
    }

    fn value(&mut self, depth: usize) -> Result<Value<'a>, SyntaxError> {
        let (token, at) = self.next()?;
        if depth >= MOST_NESTED && matches!(token, Token::Open | Token::Keyword(_)) {
            let (line, column) = self.lexer.place(at);
            return Err(SyntaxError::TooDeep { line, column });
        }
        Ok(match token {
            // A value from elsewhere (edition 3) is not read.
            Token::Dollar | Token::Elsewhere => Value::Omitted,
            Token::Star => Value::Derived,
            Token::Number(x) => Value::Number(x),
            Token::Text(t) => Value::Text(t),
            Token::Enumeration(e) => Value::Enumeration(e),
            Token::Binary => Value::Binary,
            Token::Reference(id) => Value::Reference(id),
            Token::Open => Value::List(self.parameters(depth + 1)?),
            Token::Keyword(name) => {
                self.expect(&Token::Open, "\"(\"")?;
                Value::Typed(name, self.parameters(depth + 1)?)
            }
            other => return Err(self.wrong("a parameter", &(other, at))),
        })
    }
}

#[cfg(test)]
mod tests;
