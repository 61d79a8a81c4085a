// Say something to those who listen to the page as well as to those who look at it.
export function announce(text: string): void {
  const place = document.getElementById("said");
  if (place) place.textContent = text;
}
