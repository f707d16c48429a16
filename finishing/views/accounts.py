"""Who comes in: sign in and out, the first start, joining by a link, and choosing a workshop."""

from django.contrib.auth.views import LoginView, LogoutView

from finishing.forms.accounts import SignInForm

sign_in = LoginView.as_view(
    template_name="finishing/accounts/sign_in.html", authentication_form=SignInForm, redirect_authenticated_user=True
)
sign_out = LogoutView.as_view()
