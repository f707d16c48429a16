"""How passwords are kept."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class SmallArgon2(Argon2PasswordHasher):
    """Argon2id at 19 MiB, two passes, one lane: the least that OWASP's cheat sheet on password storage advises (from
    memory). Django's own 100 MiB a try, times eight threads, is more than an old laptop has to spare."""

    time_cost = 2
    memory_cost = 19 * 1024  # KiB
    parallelism = 1
