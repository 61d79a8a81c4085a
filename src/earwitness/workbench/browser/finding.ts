// The QR code of the card is to lead to this workbench as this browser reaches it; the server does not know that address.
const from = `?from=${encodeURIComponent(location.origin)}`;
document.querySelectorAll<HTMLAnchorElement>("[data-card]").forEach((link) => { link.href += from; });
document.querySelectorAll<HTMLImageElement>("[data-qr]").forEach((image) => { image.src += from; });
