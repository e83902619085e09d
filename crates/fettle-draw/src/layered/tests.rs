use proptest::prelude::*;

use super::*;

const SPACING: Spacing = Spacing {
    room: 740.0,
    between: 9.0,
    rows: 26.0,
    reach: 0.05,
    thread: 4.0,
    ports: 9.0,
};

/// Boxes, and lines that all run from an earlier to a later of them, as of a camera's parts.
fn any_graph(most: usize) -> impl Strategy<Value = (Vec<Knot>, Vec<Link>)> {
    (1..=most).prop_flat_map(move |n| {
        let knot =
            (30.0..130.0_f64, 12.0..60.0_f64).prop_map(|(width, height)| Knot { width, height });
        let link = (0..n, 0..n, 0..3_usize);
        (
            proptest::collection::vec(knot, n),
            proptest::collection::vec(link, 0..2 * n),
        )
            .prop_map(|(knots, links)| {
                let links = links
                    .into_iter()
                    .filter(|(a, b, _)| a != b)
                    .map(|(a, b, strand)| Link {
                        from: a.min(b),
                        to: a.max(b),
                        strand,
                    })
                    .collect();
                (knots, links)
            })
    })
}

fn apart(a: &Area, b: &Area) -> bool {
    a.right < b.left || b.right < a.left || a.bottom < b.top || b.bottom < a.top
}

/// Crossings after plain barycentre sweeps from the order in which the knots come, the best of them kept.
fn plain_barycentre(graph: &Threaded) -> usize {
    let mut order = vec![Vec::new(); graph.order.len()];
    for (n, &row) in graph.row_of.iter().enumerate() {
        order[row].push(n);
    }
    let mut fewest = order::count(graph, &order);
    for sweep in 0..24 {
        order::sweep_once(graph, &mut order, sweep % 2 == 0);
        fewest = fewest.min(order::count(graph, &order));
    }
    fewest
}

/// Crossings pair by pair.
fn crossings_by_pairs(graph: &Threaded) -> usize {
    let mut place = vec![0; graph.widths.len()];
    for row in &graph.order {
        for (i, &n) in row.iter().enumerate() {
            place[n] = i;
        }
    }
    let lines: Vec<(usize, usize)> = graph
        .down
        .iter()
        .enumerate()
        .flat_map(|(n, down)| down.iter().map(move |&m| (n, m)))
        .collect();
    let mut crossings = 0;
    for (i, &(a, b)) in lines.iter().enumerate() {
        for &(c, d) in lines.iter().skip(i + 1) {
            if graph.row_of[a] == graph.row_of[c] {
                let above = place[a].cmp(&place[c]);
                let below = place[b].cmp(&place[d]);
                crossings += usize::from(above.is_ne() && above == below.reverse());
            }
        }
    }
    crossings
}

fn ordered(knots: &[Knot], links: &[Link]) -> Threaded {
    let laid = downward(knots.len(), links);
    let row_of = rows::rows(knots, &laid, &SPACING);
    let mut graph = Threaded::new(knots, &laid, &row_of, SPACING.thread);
    order::order(&mut graph);
    graph
}

/// Lines cross in a drawing of two rows of three, each joined to each, nine times, whatever the order.
#[test]
fn crossings_that_cannot_be_avoided_are_counted() {
    let knots = [Knot {
        width: 50.0,
        height: 20.0,
    }; 6];
    let links: Vec<Link> = (0..9)
        .map(|i| Link {
            from: i / 3,
            to: 3 + i % 3,
            strand: 0,
        })
        .collect();
    let graph = ordered(&knots, &links);
    assert_eq!(graph.order.len(), 2);
    assert_eq!(order::count(&graph, &graph.order), 9);
    assert_eq!(crossings_by_pairs(&graph), 9);
}

#[test]
fn rows_are_kept_to_the_room_where_they_can_be() {
    let knots = [Knot {
        width: 100.0,
        height: 20.0,
    }; 30];
    let laid = layered(&knots, &[], &SPACING);
    assert!((laid.width - SPACING.room).abs() < 1e-9, "{}", laid.width);
    assert_eq!(laid.rows.iter().max(), Some(&4));
}

#[test]
fn a_chain_stands_straight() {
    let knots = [Knot {
        width: 60.0,
        height: 20.0,
    }; 6];
    let links: Vec<Link> = (0..5)
        .map(|i| Link {
            from: i,
            to: i + 1,
            strand: 0,
        })
        .chain([Link {
            from: 0,
            to: 5,
            strand: 0,
        }])
        .collect();
    let laid = layered(&knots, &links, &SPACING);
    assert_eq!(laid.rows, [0, 1, 2, 3, 4, 5]);
    // Only the first and the last, which two lines leave and enter, may stand between both.
    for pair in laid.areas[1..5].windows(2) {
        assert!(
            (pair[0].left - pair[1].left).abs() < 0.01,
            "{:?}",
            laid.areas
        );
    }
    let long = &laid.routes[5];
    let bends = long
        .windows(2)
        .filter(|p| (p[0].x - p[1].x).abs() > 0.5)
        .count();
    assert!(bends <= 2, "{long:?}");
}

#[test]
fn a_circle_is_drawn_with_one_line_upwards() {
    let knots = [Knot {
        width: 60.0,
        height: 20.0,
    }; 3];
    let links = [(0, 1), (1, 2), (2, 0), (1, 1), (1, 9)].map(|(from, to)| Link {
        from,
        to,
        strand: 0,
    });
    let laid = layered(&knots, &links, &SPACING);
    let upwards = |route: &Vec<Point>| route.first().map(|p| p.y) > route.last().map(|p| p.y);
    assert_eq!(laid.routes.iter().filter(|r| upwards(r)).count(), 1);
    assert!(laid.routes[3].is_empty() && laid.routes[4].is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn boxes_stand_apart_and_on_the_sheet((knots, links) in any_graph(45)) {
        let laid = layered(&knots, &links, &SPACING);
        for (i, a) in laid.areas.iter().enumerate() {
            prop_assert!(a.left >= -0.01 && a.right <= laid.width + 0.01, "{a:?} in {}", laid.width);
            prop_assert!(a.top >= -0.01 && a.bottom <= laid.height + 0.01, "{a:?} in {}", laid.height);
            for b in laid.areas.iter().skip(i + 1) {
                prop_assert!(apart(a, b), "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn lines_run_down_and_through_no_box((knots, links) in any_graph(45)) {
        let laid = layered(&knots, &links, &SPACING);
        for (link, route) in links.iter().zip(&laid.routes) {
            prop_assert!(laid.rows[link.from] < laid.rows[link.to]);
            prop_assert!((route[0].y - laid.areas[link.from].bottom).abs() < 0.01);
            prop_assert!((route[route.len() - 1].y - laid.areas[link.to].top).abs() < 0.01);
            for (i, pair) in route.windows(2).enumerate() {
                prop_assert!(pair[0].x.is_finite() && pair[1].y >= pair[0].y - 0.01, "{route:?}");
                if i % 2 == 0 {
                    prop_assert!((pair[0].x - pair[1].x).abs() < 0.01, "{route:?}");
                }
                let piece = Area {
                    left: pair[0].x.min(pair[1].x),
                    right: pair[0].x.max(pair[1].x),
                    top: pair[0].y + 0.01,
                    bottom: pair[1].y - 0.01,
                };
                // A bent piece stays in its rectangle, which may hold nothing.
                for area in laid.areas.iter().filter(|_| piece.bottom > piece.top) {
                    prop_assert!(apart(&piece, area), "{piece:?} {area:?}");
                }
            }
        }
    }

    #[test]
    fn crossings_are_not_more_than_of_plain_barycentre_sweeps((knots, links) in any_graph(45)) {
        let graph = ordered(&knots, &links);
        let ours = order::count(&graph, &graph.order);
        prop_assert_eq!(ours, crossings_by_pairs(&graph));
        prop_assert!(ours <= plain_barycentre(&graph));
    }

    #[test]
    fn equal_graphs_are_laid_alike((knots, links) in any_graph(30)) {
        prop_assert_eq!(layered(&knots, &links, &SPACING), layered(&knots, &links, &SPACING));
    }

    #[test]
    fn any_lines_at_all_are_laid(
        links in proptest::collection::vec((0..12_usize, 0..12_usize, 0..2_usize), 0..40),
    ) {
        let knots = [Knot { width: 90.0, height: 30.0 }; 10];
        let links: Vec<Link> = links.into_iter().map(|(from, to, strand)| Link { from, to, strand }).collect();
        let laid = layered(&knots, &links, &SPACING);
        let laid_out = links.iter().filter(|l| l.from < 10 && l.to < 10 && l.from != l.to).count();
        prop_assert_eq!(laid.routes.iter().filter(|r| !r.is_empty()).count(), laid_out);
    }
}

/// Over a family of graphs, swaps and several beginnings take away crossings that sweeps alone leave.
#[test]
fn over_a_family_crossings_are_fewer_than_of_plain_sweeps() {
    let (mut ours, mut plain) = (0, 0);
    for seed in 0..40_usize {
        let knots = vec![
            Knot {
                width: 100.0,
                height: 30.0
            };
            50
        ];
        let links: Vec<Link> = (1..50_usize)
            .flat_map(|to| {
                let hash = (to * 7919 + seed * 104_729) ^ (to * to * 31);
                [(hash % to, to), ((hash / 64) % to, to)]
            })
            .enumerate()
            .filter(|(i, _)| i % 2 == 0 || i % 5 == 0)
            .map(|(_, (from, to))| Link {
                from,
                to,
                strand: 0,
            })
            .collect();
        let graph = ordered(&knots, &links);
        ours += order::count(&graph, &graph.order);
        plain += plain_barycentre(&graph);
    }
    assert!(ours * 10 < plain * 9, "{ours} against {plain}");
}
