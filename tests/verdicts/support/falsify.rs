//! Certificates that are wrong in one place.

use review::proof::{Certificate, Ground, Node, OverlapGround};

/// Each kind of falsification that this certificate allows.
#[expect(clippy::too_many_lines, reason = "a list")]
pub(crate) fn each(good: &Certificate) -> Vec<(&'static str, Certificate)> {
    let mut all = Vec::new();
    let mut add = |what, change: &dyn Fn(&mut Certificate)| {
        let mut bad = good.clone();
        change(&mut bad);
        if bad != *good {
            all.push((what, bad));
        }
    };
    add("a root cell without its lower offsets", &|c| c.space.low[0] += 1.0 + 0.5 * width(c, 0));
    add("a root cell without its upper shifts", &|c| c.space.high[3] -= 1.0 + 0.5 * width(c, 3));
    add("a root cell of less than a turn", &|c| c.space.high[2] -= 0.1);
    add("a dropped cell", &|c| {
        c.nodes.pop();
    });
    add("a cell too many", &|c| {
        let last = c.nodes.last().cloned();
        c.nodes.extend(last);
    });
    add("a split left out", &|c| {
        if c.nodes.len() > 1 {
            c.nodes.remove(0);
        }
    });
    add("a split of no variable", &|c| {
        if let Some(Node::Halve(k)) = c.nodes.first_mut() {
            *k = 9;
        }
    });
    add("weights that do not add up", &|c| {
        let margin = |i: usize| !matches!(&c.witnesses[i].by, Ground::Rule(_));
        let at = c.nodes.iter().position(|n| match n {
            Node::Leaf(weights) => weights.iter().any(|w| margin(w.0)),
            _ => false,
        });
        if let Some(at) = at
            && let Node::Leaf(weights) = &mut c.nodes[at]
        {
            for weight in weights {
                weight.1 *= 1.5;
            }
        }
    });
    add("a negative weight", &|c| {
        for node in &mut c.nodes {
            if let Node::Leaf(weights) = node
                && let Some(first) = weights.first_mut()
            {
                first.1 = -first.1;
                return;
            }
        }
    });
    add("a witness that is not there", &|c| {
        c.witnesses.pop();
    });
    add("a point off its triangle", &|c| {
        on_first(c, |ground| {
            if let Ground::Gap(gap) = ground {
                // Along no plane that a part is likely to have.
                for (c, by) in gap.on_a.iter_mut().zip([0.37, 0.29, 0.53]) {
                    *c += by;
                }
                return true;
            }
            false
        });
    });
    add("another triangle", &|c| {
        on_first(c, |ground| {
            if let Ground::Gap(gap) = ground {
                gap.triangles[1] = u32::MAX;
                return true;
            }
            false
        });
    });
    add("a wrong pair", &|c| {
        on_first(c, |ground| {
            if let Ground::Gap(gap) = ground {
                gap.b.clone_from(&gap.a);
                return true;
            }
            false
        });
    });
    add("a depth too great", &|c| {
        on_first(c, |ground| {
            if let Ground::Overlap(overlap) = ground {
                overlap.depth += 1.0;
                return true;
            }
            false
        });
    });
    add("a rectangle that reaches out of its part", &|c| {
        on_first(c, |ground| {
            if let Ground::Overlap(OverlapGround { across: Some([u, _]), .. }) = ground {
                *u = u.map(|c| 100.0 * c);
                return true;
            }
            false
        });
    });
    add("a rectangle beside its part", &|c| {
        on_first(c, |ground| {
            if let Ground::Overlap(OverlapGround { across: Some(_), on_b, .. }) = ground {
                on_b[2] += 1000.0;
                return true;
            }
            false
        });
    });
    add("a rectangle on what turns", &|c| {
        on_first(c, |ground| {
            if let Ground::Overlap(overlap) = ground
                && overlap.across.is_some()
            {
                std::mem::swap(&mut overlap.a, &mut overlap.b);
                std::mem::swap(&mut overlap.on_a, &mut overlap.on_b);
                return true;
            }
            false
        });
    });
    add("a rule that is none", &|c| {
        on_first(c, |ground| {
            if let Ground::Rule(rule) = ground {
                rule.rule = "room to spare".into();
                return true;
            }
            false
        });
    });
    add("an option not named", &|c| {
        if let Some(w) = c.witnesses.iter_mut().find(|w| !w.given.is_empty()) {
            w.given.clear();
        }
    });
    add("no bound", &|c| c.bound_mm = f64::NAN);
    add("a port that is none", &|c| c.ports[0] = "nowhere".into());
    all
}

fn width(c: &Certificate, k: usize) -> f64 {
    c.space.high[k] - c.space.low[k]
}

/// Changes the first witness that the change applies to.
fn on_first(c: &mut Certificate, change: impl Fn(&mut Ground) -> bool) {
    for witness in &mut c.witnesses {
        if change(&mut witness.by) {
            return;
        }
    }
}
