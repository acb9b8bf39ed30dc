# Installs the gateway as a Windows service from a published program. Run it in a PowerShell of an administrator:
#   service.ps1 install -From FOLDER    puts the program in FOLDER in service, or upgrades to it
#   service.ps1 rollback                goes back to the program before
#   service.ps1 uninstall               takes program and service away; configuration and history stay
# It says what it will do and asks (-Confirm:$false does not ask, -WhatIf only says it).
[CmdletBinding(SupportsShouldProcess, ConfirmImpact = 'High')]
param(
    [Parameter(Mandatory, Position = 0)][ValidateSet('install', 'rollback', 'uninstall')][string] $Command,
    [string] $From
)
$ErrorActionPreference = 'Stop'
Set-StrictMode -Version Latest

$name = 'SawEdge'
$programs = Join-Path $env:ProgramFiles 'SawEdge'
$data = Join-Path $env:ProgramData 'SawEdge'
$current = Join-Path $programs 'current'
$previous = Join-Path $programs 'previous'
# The service's own account: it has no password and no rights but those given to it here.
$account = "NT SERVICE\$name"

$identity = New-Object Security.Principal.WindowsPrincipal([Security.Principal.WindowsIdentity]::GetCurrent())
if (-not $WhatIfPreference -and -not $identity.IsInRole([Security.Principal.WindowsBuiltInRole]::Administrator)) {
    throw 'Only an administrator can do this: open PowerShell with "Run as administrator".'
}

function Stop-Gateway {
    $service = Get-Service -Name $name -ErrorAction SilentlyContinue
    if ($service -and $service.Status -ne 'Stopped') {
        Stop-Service -Name $name
        # The last cuts are stored and delivered first: 35 s at most.
        $service.WaitForStatus('Stopped', [TimeSpan]::FromSeconds(60))
    }
}

function Grant([string] $folder, [string] $rights) {
    # Nobody but administrators, the system and the service: the history names jobs, the configuration names servers.
    & icacls.exe $folder /inheritance:r /grant:r '*S-1-5-32-544:(OI)(CI)F' '*S-1-5-18:(OI)(CI)F' "${account}:(OI)(CI)$rights" | Out-Null
    if ($LASTEXITCODE -ne 0) { throw "The rights of $folder could not be set (icacls ended with $LASTEXITCODE)." }
}

function Install-Gateway {
    if (-not $From) { throw 'Which program? service.ps1 install -From FOLDER, with the folder of a published program.' }
    $program = Join-Path $From 'sawedge.exe'
    if (-not (Test-Path -LiteralPath $program)) { throw "There is no sawedge.exe in '$From': that is no published program." }
    if (-not $PSCmdlet.ShouldProcess("service $name", "put the program from $From in service, keep the present one for a rollback")) { return }

    Stop-Gateway
    New-Item -ItemType Directory -Force -Path $programs, $data, (Join-Path $data 'history') | Out-Null
    # Copied under another name first: half a program never looks like a whole one.
    $fresh = Join-Path $programs 'new'
    if (Test-Path -LiteralPath $fresh) { Remove-Item -LiteralPath $fresh -Recurse -Force }
    Copy-Item -LiteralPath $From -Destination $fresh -Recurse
    if (Test-Path -LiteralPath $current) {
        if (Test-Path -LiteralPath $previous) { Remove-Item -LiteralPath $previous -Recurse -Force }
        Rename-Item -LiteralPath $current -NewName 'previous'
    }
    Rename-Item -LiteralPath $fresh -NewName 'current'

    if (-not (Get-Service -Name $name -ErrorAction SilentlyContinue)) {
        $line = '"{0}" run "{1}" --log json' -f (Join-Path $current 'sawedge.exe'), (Join-Path $data 'sawedge.json')
        New-Service -Name $name -DisplayName 'SawEdge gateway' -BinaryPathName $line -StartupType Automatic -Description 'Reads band saws, records every cut, writes to InfluxDB. It only ever reads from the machine.' | Out-Null
        & sc.exe config $name obj= $account | Out-Null
        if ($LASTEXITCODE -ne 0) { throw "The service's account could not be set (sc ended with $LASTEXITCODE)." }
        # Started again for as long as it takes: nobody stands by.
        & sc.exe failure $name reset= 86400 actions= restart/5000/restart/5000/restart/60000 | Out-Null
        & sc.exe failureflag $name 1 | Out-Null
        & sc.exe sidtype $name unrestricted | Out-Null
    }
    New-ItemProperty -Path "HKLM:\SYSTEM\CurrentControlSet\Services\$name" -Name Environment -PropertyType MultiString -Force -Value @("SAWEDGE_dataFolder=$(Join-Path $data 'history')") | Out-Null
    Grant $data 'RX'
    Grant (Join-Path $data 'history') 'M'

    if (Test-Path -LiteralPath (Join-Path $data 'sawedge.json')) {
        Start-Service -Name $name
        Write-Output 'Done: it runs.'
    } else {
        Write-Output "Next, write $(Join-Path $data 'sawedge.json'), check it with '$(Join-Path $current 'sawedge.exe') check', then Start-Service $name."
    }
}

function Undo-Upgrade {
    if (-not (Test-Path -LiteralPath $previous)) { throw 'There is no program before the present one to go back to.' }
    if (-not $PSCmdlet.ShouldProcess("service $name", 'go back to the program before')) { return }
    Stop-Gateway
    Rename-Item -LiteralPath $current -NewName 'swap'
    Rename-Item -LiteralPath $previous -NewName 'current'
    Rename-Item -LiteralPath (Join-Path $programs 'swap') -NewName 'previous'
    Start-Service -Name $name
    Write-Output "Done. Where it says that the history is of a newer version: 'sawedge history restore' with the backup from before the upgrade."
}

function Uninstall-Gateway {
    if (-not $PSCmdlet.ShouldProcess("service $name", "take the service and $programs away; $data stays")) { return }
    Stop-Gateway
    if (Get-Service -Name $name -ErrorAction SilentlyContinue) { & sc.exe delete $name | Out-Null }
    if (Test-Path -LiteralPath $programs) { Remove-Item -LiteralPath $programs -Recurse -Force }
    Write-Output "Done. Configuration and history stay in $data."
}

switch ($Command) {
    'install' { Install-Gateway }
    'rollback' { Undo-Upgrade }
    'uninstall' { Uninstall-Gateway }
}
