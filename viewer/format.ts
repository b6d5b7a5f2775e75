// Numbers as people read them here; lengths and feeds are said by the core.

/** `0:43:07`: hours, minutes and seconds, as the command line says it. */
export function clockTime(seconds: number): string {
  const whole = Math.round(seconds);
  const two = (count: number) => String(count).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/** `+1.4 min`, `-0.3 min`, `no change`. */
export function minutesMore(seconds: number): string {
  const minutes = seconds / 60;
  return Math.abs(minutes) < 0.05 ? "same time" : `${signed(minutes, 1)} min`;
}

/** With its sign, a true minus, and without `-0`. */
export function signed(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  if (Number(text) === 0) return text;
  return value < 0 ? `\u2212${text}` : `+${text}`;
}

/** Never more than there is: 99.97 % is not 100 %. */
export function percent(share: number): string {
  return `${(Math.floor(share * 1000 + 1e-6) / 10).toFixed(1)} %`;
}
