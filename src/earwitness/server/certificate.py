"""The server's own certificate authority, made at the first start, and a certificate for the names it is reached by.

A device that has been given the authority's certificate trusts this server and no other; its fingerprint is shown where
the server starts, to compare.
"""

from __future__ import annotations

import ipaddress
import os
import socket
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec

AUTHORITY_DAYS, SERVER_DAYS, RENEW_DAYS = 3650, 397, 30


@dataclass(frozen=True)
class Certificate:
    authority: Path
    chain: Path
    key: Path
    fingerprint: str  # SHA-256 of the authority's certificate


def certificate_for(folder: Path, host: str) -> Certificate:
    """The certificate in `folder` for `host` and this machine's own names; made or renewed where needed."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization

    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    authority_key = _key(folder / "authority.key")
    authority = _authority(folder / "authority.pem", authority_key)
    key, names = _key(folder / "server.key"), names_of(host)
    path = folder / "server.pem"
    old = x509.load_pem_x509_certificates(path.read_bytes())[0] if path.exists() else None
    if old is None or _named(old) != set(names) or old.not_valid_after_utc - datetime.now(UTC) < _days(RENEW_DAYS):
        made = _server(names, key, authority, authority_key)
        pem = serialization.Encoding.PEM
        _write(path, made.public_bytes(pem) + authority.public_bytes(pem), 0o644)
    digest = authority.fingerprint(hashes.SHA256()).hex().upper()
    shown = ":".join(digest[i : i + 2] for i in range(0, len(digest), 2))
    return Certificate(folder / "authority.pem", path, folder / "server.key", shown)


def names_of(host: str) -> list[str]:
    """How this machine is called on its network, as far as it knows."""
    names = ["localhost", "127.0.0.1", socket.gethostname().lower(), socket.getfqdn().lower()]
    if host not in ("", "0.0.0.0", "::"):
        names.append(host.lower())
    with suppress(OSError):
        names += [str(info[4][0]).partition("%")[0] for info in socket.getaddrinfo(socket.gethostname(), None)]
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:  # sends nothing; says which address goes out
            probe.connect(("192.0.2.1", 9))
            names.append(probe.getsockname()[0])
    except OSError:
        pass
    return sorted({name for name in names if name})


def _days(count: int) -> timedelta:
    return timedelta(days=count)


def _key(path: Path) -> ec.EllipticCurvePrivateKey:
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    if path.exists():
        found = serialization.load_pem_private_key(path.read_bytes(), None)
        assert isinstance(found, ec.EllipticCurvePrivateKey)
        return found
    made = ec.generate_private_key(ec.SECP256R1())
    pem = made.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _write(path, pem, 0o600)
    return made


def _write(path: Path, data: bytes, mode: int) -> None:
    part = path.with_suffix(".part")
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def _named(certificate: x509.Certificate) -> set[str]:
    from cryptography import x509

    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in found}


def _authority(path: Path, key: ec.EllipticCurvePrivateKey) -> x509.Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.x509.oid import NameOID

    if path.exists():
        return x509.load_pem_x509_certificate(path.read_bytes())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Earwitness on {socket.gethostname()}"[:64])])
    now = datetime.now(UTC)
    usage = x509.KeyUsage(
        digital_signature=True, key_cert_sign=True, crl_sign=True, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _days(1))
        .not_valid_after(now + _days(AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(path, made.public_bytes(serialization.Encoding.PEM), 0o644)
    return made


def _server(
    names: list[str], key: ec.EllipticCurvePrivateKey, authority: x509.Certificate, signer: ec.EllipticCurvePrivateKey
) -> x509.Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    now = datetime.now(UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Earwitness")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _days(1))
        .not_valid_after(now + _days(SERVER_DAYS))
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False)
        .sign(signer, hashes.SHA256())
    )


def _general(name: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name.encode("idna").decode())
