// Icons, 24 x 24, drawn in the colour of the text. Each stands beside a word.

const ICONS = {
  drag: "M4 18 C8 6 14 20 20 7 M12 9.5 a3 3 0 1 0 .01 6 a3 3 0 1 0 -.01 -6",
  add: "M3 17 C7 11 12 19 21 12 M12 2 v8 M8 6 h8",
  remove: "M3 17 C7 11 12 19 21 12 M8 6 h8",
  trace: "M4 20 l1.5 -5 L16 4.5 l3.5 3.5 L9 18.5 z M13.5 7 l3.5 3.5",
  follow: "M5 17 C5 9 12 12 13 7 C14 3 20 5 19 11 M5 19.5 a2 2 0 1 0 .01 0 M13 9 a2 2 0 1 0 .01 0 M19 13.5 a2 2 0 1 0 .01 0",
  tissue: "M12 4 C18 4 21 9 20 14 C19 19 14 21 9 20 C4 19 3 13 5 9 C6 6 9 4 12 4 M7 14 L14 7 M8 19 L19 8 M14 19 L20 13",
  skin: "M12 6 a6 6 0 1 0 .01 0 M12 2 V8 M12 16 V22 M2 12 H8 M16 12 H22",
  undo: "M9 5 L4 10 L9 15 M4 10 H14 a5 5 0 0 1 0 10 H9",
  redo: "M15 5 L20 10 L15 15 M20 10 H10 a5 5 0 0 0 0 10 H15",
  closer: "M10.5 4 a6.5 6.5 0 1 0 .01 0 M15.5 15.5 L21 21 M10.5 7.5 v6 M7.5 10.5 h6",
  farther: "M10.5 4 a6.5 6.5 0 1 0 .01 0 M15.5 15.5 L21 21 M7.5 10.5 h6",
  whole: "M4 9 V4 H9 M15 4 H20 V9 M20 15 V20 H15 M9 20 H4 V15",
  more: "M5 12 h.01 M12 12 h.01 M19 12 h.01",
  point: "M12 7 a5 5 0 1 0 .01 0 M4 4 L20 20",
  move: "M12 3 V21 M3 12 H21 M9 6 L12 3 L15 6 M9 18 L12 21 L15 18 M6 9 L3 12 L6 15 M18 9 L21 12 L18 15",
  bin: "M5 7 H19 M10 7 V4 H14 V7 M7 7 L8 20 H16 L17 7",
  next: "M5 12 H19 M13 6 L19 12 L13 18",
  fresh: "M12 5 V19 M5 12 H19",
  again: "M5 5 V10 H10 M5.5 10 A7.5 7.5 0 1 1 5 14.5",
  island: "M12 4 a8 8 0 1 0 .01 0 M12 9 a3 3 0 1 0 .01 0",
  close: "M5 12 L10 17 L20 6",
  stop: "M6 6 L18 18 M18 6 L6 18",
  small: "M12 9.5 a2.5 2.5 0 1 0 .01 0",
  medium: "M12 7 a5 5 0 1 0 .01 0",
  large: "M12 3.5 a8.5 8.5 0 1 0 .01 0",
};

function icon(name) {
  return `<svg viewBox="0 0 24 24" aria-hidden="true"><path d="${ICONS[name]}"/></svg>`;
}
