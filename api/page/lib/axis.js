// Scales of a plot: rounded steps, and places on paper.

/** Return rounded steps that cover a span. */
export function steps(low, high, about = 5) {
  const span = high - low || Math.abs(high) || 1;
  const rough = span / about;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].find((one) => one * power >= rough) * power;
  const first = Math.floor(low / step + 1e-9);
  const last = Math.ceil(high / step - 1e-9);
  return Array.from({ length: last - first + 1 }, (_, index) =>
    Number(((first + index) * step).toPrecision(12)),
  );
}

/** Return a function from values to places, with its inverse. */
export function scale([low, high], [from, to]) {
  const factor = (to - from) / (high - low || 1);
  const place = (value) => from + (value - low) * factor;
  place.value = (at) => low + (at - from) / factor;
  return place;
}
