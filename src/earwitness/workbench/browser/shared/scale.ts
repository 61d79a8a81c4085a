// A step of 1, 2 or 5 times a power of ten, so that scales have round numbers.
export function even(about: number): number {
  const power = 10 ** Math.floor(Math.log10(about));
  const share = about / power;
  return (share < 1.5 ? 1 : share < 3.5 ? 2 : share < 7.5 ? 5 : 10) * power;
}
