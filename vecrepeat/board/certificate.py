"""A certificate of this run's own, by which what goes to devices is encrypted.

Nobody vouches for it. It is known by its fingerprint, which both screens can show.
"""

from __future__ import annotations

import datetime
import ssl
import tempfile
from dataclasses import dataclass
from ipaddress import IPv4Address
from pathlib import Path

import uvicorn
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

DAYS = 30
"""How long it holds: longer than any run, and its key is gone with the run."""


@dataclass(frozen=True)
class Certificate:
    """A certificate and its key, both PEM, and its fingerprint, SHA-256 in pairs of digits."""

    chain: bytes
    key: bytes
    fingerprint: str


def make_certificate(address: str) -> Certificate:
    """Return a certificate for an address, signed by its own key (RFC 5280; P-256, FIPS 186)."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"vecrepeat board at {address}")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # Clocks differ.
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(IPv4Address(address))]), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(key, hashes.SHA256())
    )
    return Certificate(
        made.public_bytes(serialization.Encoding.PEM),
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
        made.fingerprint(hashes.SHA256()).hex(":").upper(),
    )


def load(certificate: Certificate, config: uvicorn.Config) -> None:
    """Have a server show a certificate; its key is on the disk only while it is read.

    Python reads keys from files alone. This one lies in a folder that only the user can enter,
    and neither outlives this function, however the run ends.
    """
    with tempfile.TemporaryDirectory(prefix="vecrepeat-board-") as folder:
        chain, key = Path(folder, "certificate.pem"), Path(folder, "key.pem")
        chain.write_bytes(certificate.chain)
        key.write_bytes(certificate.key)
        config.ssl_certfile, config.ssl_keyfile = chain, key
        config.load()
    # Every browser since 2019 speaks it (RFC 8446).
    assert config.ssl is not None
    config.ssl.minimum_version = ssl.TLSVersion.TLSv1_3
