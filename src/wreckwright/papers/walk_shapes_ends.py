"""The machine seen from in front of its wheel and from behind it."""

from __future__ import annotations

from wreckwright.papers.walk_paths import box, ellipse, smooth_corners, whole
from wreckwright.papers.walk_strokes import Shape, Stroke, View, both, dark, ink, pair, thing


def _fins(left: float, right: float, top: float, bottom: float, every: float) -> str:
    """Upright lines from `left` to `right`, as one path."""
    count = int((right - left) / every)
    return " ".join(f"M {left + every * n:g} {top:g} L {left + every * n:g} {bottom:g}" for n in range(count + 1))


def _tread(x: float, top: float, bottom: float, half: float, every: float, dip: float) -> tuple[Stroke, ...]:
    """Grooves of a tyre seen from before or behind, dipping by `dip` at the middle."""
    count = int((bottom - top) / every)
    grooves = " ".join(
        f"M {x - half:g} {top + every * n:g} L {x - 5:g} {top + every * n + dip:g}"
        f" M {x + half:g} {top + every * n + every / 2:g} L {x + 5:g} {top + every * n + every / 2 + dip:g}"
        for n in range(count + 1)
    )
    return (ink(grooves, 1.6),)


NOSE_ON = View(
    height=490.0,
    words="The machine from the front, at the height of its wheel: its left side is on the right of the picture.",
    behind=(
        # Ground, then what stands out behind: tank and seat, engine with its covers, footrests.
        ink("M 24 476 L 336 476", 1.0),
        thing(whole("M 180 150 C 120 150 78 172 74 214 C 72 250 88 280 108 306 L 180 306")),
        *both(ink("M 84 210 C 82 240 94 270 112 292", 1.0)),
        thing(whole("M 180 300 L 104 304 C 84 308 70 324 70 344 C 70 368 88 386 116 390 L 180 394")),
        *both(
            ink(ellipse(79, 346, 5, 22), 1.0),
            thing(box(44, 384, 42, 9, 4)),
            ink("M 86 388 L 104 380", 2.2),
            # Handlebar, grip, brake or clutch lever, mirror.
            thing(smooth_corners([(180, 92), (120, 88), (70, 96), (70, 105), (122, 98), (180, 102)], 4)),
            thing(box(16, 93, 56, 15, 6)),
            ink("M 26 94 L 26 107 M 36 94 L 36 107 M 46 94 L 46 107 M 56 94 L 56 107", 0.9),
            thing(box(10, 95, 8, 11, 3)),
            ink("M 92 104 C 70 116 48 118 24 114", 2.4),
            ink("M 92 92 C 86 76 76 66 68 56", 2.4),
            thing("M 26 46 C 24 30 40 22 62 22 C 78 22 84 34 80 46 C 76 58 62 62 46 60 C 34 58 27 54 26 46 Z"),
            ink("M 38 50 L 54 32", 1.0),
            # Brake disc, edge on.
            thing(box(145, 306, 5, 136, 2), 1.1),
        ),
        thing(box(96, 366, 168, 12, 5)),
    ),
    shapes={
        "screen": Shape(
            pieces=("M 136 104 C 132 72 144 22 180 18 C 216 22 228 72 224 104 Q 180 110 136 104 Z",),
            strokes=(
                ink("M 152 98 C 150 74 158 44 170 32", 1.0),
                ink("M 146 104 L 158 84 L 202 84 L 214 104", 1.2),
                dark(ellipse(158, 84, 2.6)),
                dark(ellipse(202, 84, 2.6)),
            ),
            words_at=(180, 60),
        ),
        "lamp": Shape(
            pieces=(smooth_corners([(62, 114), (298, 114), (298, 160), (276, 170), (84, 170), (62, 160)], 16),),
            strokes=(
                *both(
                    ink("M 94 141 L 134 138", 4.0),
                    thing(
                        "M 96 141 C 96 132 90 129 82 129 C 74 129 69 134 69 141 C 69 148 74 153 82 153"
                        " C 90 153 96 150 96 141 Z"
                    ),
                    ink("M 76 135 L 76 147 M 82 133 L 82 149", 0.9),
                ),
                thing(
                    "M 144 117 L 216 117 Q 230 118 229 132 C 226 152 206 167 180 167 C 154 167 134 152 131 132"
                    " Q 130 118 144 117 Z",
                    1.8,
                ),
                ink(
                    "M 148 122 L 212 122 Q 222 123 221 133 C 217 149 201 161 180 161 C 159 161 143 149 139 133"
                    " Q 138 123 148 122 Z",
                    1.0,
                ),
                ink(ellipse(180, 140, 13), 1.2),
                ink(ellipse(180, 140, 5), 1.0),
                thing(ellipse(116, 158, 9)),
                ink(ellipse(116, 158, 4.5), 1.0),
            ),
            words_at=(252, 158),
        ),
        "coolers": Shape(
            pieces=(box(94, 178, 172, 58, 8),),
            strokes=(
                thing(box(100, 182, 160, 34, 4)),
                ink(_fins(108, 252, 184, 214, 6), 0.8),
                thing(box(146, 219, 68, 14, 3)),
                ink(_fins(152, 208, 221, 231, 4), 0.8),
            ),
            words_at=(180, 202),
        ),
        "mudguard": Shape(
            pieces=(
                "M 148 328 L 148 288 C 148 268 158 258 180 258 C 202 258 212 268 212 288 L 212 328 Q 180 322 148 328 Z",
            ),
            strokes=(ink("M 156 322 L 156 290 C 157 274 166 266 180 266 C 194 266 203 274 204 290 L 204 322", 1.0),),
            words_at=(180, 296),
        ),
        "legs": Shape(
            pieces=pair(smooth_corners([(86, 244), (142, 244), (142, 318), (86, 318)], 9)),
            strokes=both(
                thing(box(102, 236, 26, 58, 3)),
                ink("M 108 240 L 108 290", 0.9),
                thing(box(99, 290, 32, 10, 4)),
                thing(box(106, 300, 18, 24, 1)),
                ink("M 110 302 L 110 320", 0.9),
            ),
            words_at=(114, 280),
        ),
        "brakes": Shape(
            pieces=pair(smooth_corners([(84, 324), (142, 324), (142, 398), (84, 398)], 9)),
            strokes=both(
                thing("M 104 324 L 126 324 L 130 352 L 128 386 Q 115 394 102 386 L 100 352 Z"),
                thing(smooth_corners([(112, 334), (140, 330), (142, 374), (114, 374)], 6), 1.6),
                ink("M 118 344 L 138 342 M 118 362 L 138 362", 1.0),
                ink(ellipse(115, 378, 5), 1.2),
                ink("M 118 334 C 108 318 96 300 94 262", 1.8),
                ink("M 104 384 C 92 380 90 350 92 326", 0.9),
            ),
            words_at=(112, 392),
        ),
        "wheel": Shape(
            pieces=("M 152 340 Q 180 332 208 340 L 208 438 C 208 462 198 476 180 476 C 162 476 152 462 152 438 Z",),
            strokes=_tread(180, 350, 452, 25, 17, 9),
            words_at=(180, 410),
        ),
    },
    before=(
        *both(
            # Fork tubes before the radiator, and the clamps that hold them.
            thing(box(104, 170, 22, 66, 2)),
            ink("M 109 174 L 109 232", 0.9),
        ),
        thing(smooth_corners([(94, 232), (266, 232), (266, 244), (200, 250), (160, 250), (94, 244)], 5)),
    ),
)

TAIL_ON = View(
    height=490.0,
    words="The machine from behind, at the height of its wheel: its left side is on the left of the picture.",
    behind=(
        ink("M 24 476 L 336 476", 1.0),
        *both(
            thing(smooth_corners([(180, 62), (120, 58), (66, 70), (66, 79), (122, 68), (180, 72)], 4)),
            thing(box(18, 66, 54, 15, 6)),
            ink("M 28 67 L 28 80 M 38 67 L 38 80 M 48 67 L 48 80 M 58 67 L 58 80", 0.9),
            thing(box(12, 68, 8, 11, 3)),
            ink("M 88 66 C 82 52 74 46 66 40", 2.4),
            thing("M 24 30 C 22 16 38 8 60 8 C 76 8 82 20 78 31 C 74 42 60 46 44 44 C 32 42 25 38 24 30 Z"),
            ink("M 36 34 L 52 17", 1.0),
        ),
        # Side panels and engine behind, footrests of the rider.
        thing(whole("M 180 96 C 130 100 100 140 92 190 C 84 232 84 268 96 300 L 180 306")),
        thing(whole("M 180 296 L 108 300 C 88 304 74 322 74 344 C 74 366 90 386 116 390 L 180 394")),
        *both(thing(box(40, 372, 40, 9, 4))),
        # Chain and sprocket on the left, disc and silencer on the right.
        thing(box(139, 318, 6, 118, 3), 1.1),
        ink("M 139 322 L 145 322 M 139 330 L 145 330 M 139 420 L 145 420", 0.9),
        thing(box(215, 330, 4, 92, 2), 1.1),
        thing("M 262 300 C 280 292 318 296 324 316 C 330 338 326 372 312 384 C 298 392 280 386 276 372 Z"),
        thing(ellipse(305, 346, 17, 32)),
        thing(ellipse(305, 346, 10, 21)),
        dark(ellipse(305, 346, 6, 13)),
        thing(box(96, 376, 168, 13, 5)),
    ),
    shapes={
        "tail": Shape(
            pieces=(whole("M 180 24 L 132 26 Q 116 28 112 46 C 108 74 112 94 122 106 L 180 110"),),
            strokes=(
                thing(whole("M 180 58 C 156 58 138 62 132 70 C 126 82 128 94 132 102 L 180 105"), 1.6),
                ink(whole("M 180 68 C 164 68 150 70 145 76 C 141 84 142 92 144 97 L 180 99"), 1.0),
                thing(box(120, 32, 120, 7, 3)),
                thing(box(126, 45, 108, 6, 3)),
                *both(ink("M 142 32 L 142 58 M 166 32 L 166 56", 2.0)),
            ),
            words_at=(180, 86),
        ),
        "lamps": Shape(
            pieces=(smooth_corners([(58, 114), (302, 114), (302, 160), (284, 170), (76, 170), (58, 160)], 16),),
            strokes=(
                *both(
                    ink("M 92 142 L 138 140", 4.0),
                    thing(
                        "M 94 142 C 94 133 88 130 80 130 C 72 130 67 135 67 142 C 67 149 72 154 80 154"
                        " C 88 154 94 151 94 142 Z"
                    ),
                    ink("M 74 136 L 74 148 M 80 134 L 80 150", 0.9),
                ),
                thing(whole("M 180 120 L 138 120 Q 128 121 130 134 C 133 152 154 164 180 164"), 1.8),
                ink(whole("M 180 127 L 144 127 Q 136 128 138 136 C 142 148 158 157 180 157"), 1.0),
                ink("M 150 127 L 156 152 M 166 127 L 168 157 M 194 127 L 192 157 M 210 127 L 204 152", 0.9),
            ),
            words_at=(254, 160),
        ),
        "plate": Shape(
            pieces=(smooth_corners([(118, 175), (242, 175), (242, 238), (118, 238)], 9),),
            strokes=(
                thing(whole("M 180 176 L 162 176 L 164 190 L 180 190")),
                thing(box(128, 188, 104, 46, 4), 1.8),
                ink(box(133, 193, 94, 36, 2), 0.9),
                dark(ellipse(146, 211, 2.4)),
                dark(ellipse(214, 211, 2.4)),
            ),
            words_at=(180, 211),
        ),
        "pegs": Shape(
            pieces=pair(smooth_corners([(58, 236), (114, 236), (118, 244), (118, 298), (58, 298)], 9)),
            strokes=both(
                thing("M 112 240 L 116 258 L 102 286 L 92 286 L 94 262 Z"),
                thing(box(62, 274, 36, 11, 4)),
                ink("M 70 275 L 70 284 M 78 275 L 78 284 M 86 275 L 86 284", 0.9),
            ),
            words_at=(88, 252),
        ),
        "shock": Shape(
            pieces=(smooth_corners([(150, 242), (210, 242), (210, 302), (150, 302)], 9),),
            strokes=(
                thing(box(168, 244, 24, 8, 3)),
                thing(box(174, 250, 12, 46, 2)),
                *(
                    thing(
                        smooth_corners(
                            [(164, 256 + 10 * n), (196, 252 + 10 * n), (196, 257 + 10 * n), (164, 261 + 10 * n)], 2.5
                        ),
                        1.2,
                    )
                    for n in range(4)
                ),
                thing(box(168, 293, 24, 7, 3)),
            ),
            words_at=(180, 272),
        ),
        "arm": Shape(
            pieces=pair(smooth_corners([(82, 336), (138, 336), (138, 412), (82, 412)], 9)),
            strokes=both(
                thing(smooth_corners([(100, 340), (134, 340), (136, 408), (96, 408), (92, 372)], 7), 1.6),
                thing(box(104, 352, 22, 40, 4)),
                thing(smooth_corners([(115, 362), (124, 367), (124, 378), (115, 383), (106, 378), (106, 367)], 1)),
                ink(ellipse(115, 372.5, 4), 1.0),
                ink("M 104 400 L 126 400 M 115 394 L 115 406", 1.2),
            ),
            words_at=(110, 402),
        ),
        "wheel": Shape(
            pieces=(
                "M 148 330 Q 148 308 180 308 Q 212 308 212 330 L 212 442 C 212 464 200 476 180 476"
                " C 160 476 148 464 148 442 Z",
            ),
            strokes=_tread(180, 322, 452, 28, 18, 9),
            words_at=(180, 410),
        ),
    },
)
