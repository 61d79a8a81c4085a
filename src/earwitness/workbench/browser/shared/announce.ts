// Say something to those who listen to the page as well as to those who look at it.
export function announce(text: string): void {
  const place = document.getElementById("said");
  if (place) place.textContent = text;
}

// For those alone who listen: whoever looks sees it where it happens.
export function hear(text: string): void {
  const place = document.getElementById("heard");
  if (place) place.textContent = text;
}

// How far something is: seen at each step, and heard at each tenth, for whoever listens does nothing else meanwhile.
export class HowFar {
  private tenth = 0;

  say(text: string, done: number, of: number): void {
    const tenth = Math.floor((10 * done) / of);
    if (tenth <= this.tenth) return;
    this.tenth = tenth;
    hear(text);
  }
}
