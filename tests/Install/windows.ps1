# Read before service.ps1 in its test: nobody is asked, and what the emulated Windows does not know of sc.exe and icacls.exe is
# written down in their place, so that the test can see it.
$ConfirmPreference = 'None'
function sc.exe {
    Add-Content -LiteralPath 'Z:\w\tools.log' -Value "sc $($args -join ' ')"
    if ($args[0] -in 'config', 'sidtype', 'failureflag') { $global:LASTEXITCODE = 0 } else { & "$env:SystemRoot\system32\sc.exe" @args }
}
function icacls.exe {
    Add-Content -LiteralPath 'Z:\w\tools.log' -Value "icacls $($args -join ' ')"
    $global:LASTEXITCODE = 0
}
